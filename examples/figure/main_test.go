package main

import (
	"fmt"
	"image/png"
	"log"
	"os"
	"path/filepath"
)

func Example() {
	dir, err := os.MkdirTemp("", "figure")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "shot.png")
	if err := run("..", path); err != nil {
		log.Fatal(err)
	}
	file, err := os.Open(path)
	if err != nil {
		log.Fatal(err)
	}
	defer file.Close()
	picture, err := png.DecodeConfig(file)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(picture.Width, "x", picture.Height)
	// Output:
	// 1024 x 1142
}
