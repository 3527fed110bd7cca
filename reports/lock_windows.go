package reports

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// errSharing is ERROR_SHARING_VIOLATION.
const errSharing = syscall.Errno(32)

// openLocked opens a file that no other process may have open. The lock ends with
// the process, however that ends.
func openLocked(path string) (*os.File, error) {
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return nil, err
	}
	h, err := syscall.CreateFile(name, syscall.GENERIC_READ|syscall.GENERIC_WRITE, 0, nil, syscall.OPEN_ALWAYS, syscall.FILE_ATTRIBUTE_NORMAL, 0)
	if errors.Is(err, errSharing) {
		return nil, fmt.Errorf("%s is in use: another run writes to the same results", path)
	}
	if err != nil {
		return nil, &os.PathError{Op: "open", Path: path, Err: err}
	}
	return os.NewFile(uintptr(h), path), nil
}
