//go:build unix

package reports

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// openLocked opens a file that no other process may have open in this way. The
// lock ends with the process, however that ends. Where the file system knows no
// locks there is none.
func openLocked(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); errors.Is(err, syscall.EWOULDBLOCK) {
		f.Close()
		return nil, fmt.Errorf("%s is in use: another run writes to the same results", path)
	}
	return f, nil
}
