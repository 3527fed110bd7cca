package curve

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"slewbook/dpt/result"
)

// shotsFile holds a line of JSON for each shot of a result folder.
const shotsFile = "shots.jsonl"

// ReadFolder returns the shots of a result folder, in its order.
func ReadFolder(dir string) ([]*result.Shot, error) {
	var shots []*result.Shot
	err := EachShot(dir, func(s *result.Shot) { shots = append(shots, s) })
	return shots, err
}

// EachShot shows the shots of a result folder one by one, in its order.
func EachShot(dir string, show func(*result.Shot)) error {
	path := filepath.Join(dir, shotsFile)
	in, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("%s is no result folder: %w; expected one that slewbook measure --out wrote", dir, err)
	}
	defer in.Close()
	dec := json.NewDecoder(in)
	for n := 1; ; n++ {
		shot := new(result.Shot)
		err := dec.Decode(shot)
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("%s: shot %d: %w; expected a JSON object a line", path, n, err)
		}
		show(shot)
	}
}
