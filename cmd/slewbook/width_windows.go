package main

import (
	"os"

	"golang.org/x/sys/windows"
)

// columns is how many characters a line of a terminal has, 0 if it does not tell.
func columns(f *os.File) int {
	var info windows.ConsoleScreenBufferInfo
	if windows.GetConsoleScreenBufferInfo(windows.Handle(f.Fd()), &info) != nil {
		return 0
	}
	return int(info.Window.Right-info.Window.Left) + 1
}
