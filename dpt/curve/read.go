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
	path := filepath.Join(dir, shotsFile)
	in, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s is no result folder: %w; expected one that slewbook measure --out wrote", dir, err)
	}
	defer in.Close()
	shots, err := ReadShots(in)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return shots, nil
}

// ReadShots reads lines of JSON as slewbook measure writes them.
func ReadShots(r io.Reader) ([]*result.Shot, error) {
	var shots []*result.Shot
	for dec := json.NewDecoder(r); ; {
		shot := new(result.Shot)
		err := dec.Decode(shot)
		if err == io.EOF {
			return shots, nil
		}
		if err != nil {
			return nil, fmt.Errorf("shot %d: %w; expected a JSON object a line", len(shots)+1, err)
		}
		shots = append(shots, shot)
	}
}
