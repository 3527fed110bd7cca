//go:build unix

package main

import (
	"os"

	"golang.org/x/sys/unix"
)

// columns is how many characters a line of a terminal has, 0 if it does not tell.
func columns(f *os.File) int {
	size, err := unix.IoctlGetWinsize(int(f.Fd()), unix.TIOCGWINSZ)
	if err != nil {
		return 0
	}
	return int(size.Col)
}
