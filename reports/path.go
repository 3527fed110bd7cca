package reports

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"unicode/utf8"

	"slewbook/dpt/result"
)

// parts lists what a figure may show of a shot, "" for all of it.
func parts() []string {
	return []string{"", "record", string(result.TurnOff), string(result.TurnOn)}
}

// shotPaths lists the slash paths that figures of a shot may have in a result folder,
// without extension.
func shotPaths(capture string) []string {
	paths := each(parts(), func(part string) string { return figuresDir + "/" + figurePath(capture, part) })
	return append(paths, lociDir+"/"+figurePath(capture, ""))
}

// figurePath returns the slash path of a capture's figure, without extension:
// the capture's own path, with what a file system might not take as %XX, and
// the part after a hyphen. No two figures of a run share a path, since in one
// run either all have a part or none has.
func figurePath(capture, part string) string {
	path := strings.Join(each(strings.Split(capture, "/"), fileName), "/")
	if part != "" {
		path += "-" + part
	}
	return path
}

// longest is a length of a name that file systems take, with room for an
// extension.
const longest = 200

// FileName makes a name of words that may hold anything, slashes as well.
func FileName(words string) string { return strings.ReplaceAll(fileName(words), "/", "%2F") }

// fileName escapes one element of a path.
func fileName(name string) string {
	var out strings.Builder
	for i, r := range name {
		_, size := utf8.DecodeRuneInString(name[i:])
		torn := r == utf8.RuneError && size == 1
		edge := i == 0 && r == '.' || i == len(name)-1 && (r == '.' || r == ' ')
		if torn || r < ' ' || r == 0x7f || edge || strings.ContainsRune(`<>:"\|?*%`, r) {
			fmt.Fprintf(&out, "%%%02X", name[i])
		} else {
			out.WriteRune(r)
		}
	}
	switch escaped := out.String(); {
	case escaped == "":
		return "%" // an empty element, as in "a//b"
	case reserved(escaped):
		return fmt.Sprintf("%%%02X%s", escaped[0], escaped[1:])
	case len(escaped) > longest:
		// Cut in front of a character that the cut would tear.
		return strings.ToValidUTF8(escaped[:longest-17], "") + fmt.Sprintf("%%%x", sha256.Sum256([]byte(name)))[:17]
	default:
		return escaped
	}
}

// reserved tells whether a name is a device on Windows, with or without an
// extension.
func reserved(name string) bool {
	stem, _, _ := strings.Cut(strings.ToUpper(name), ".")
	switch stem {
	case "CON", "PRN", "AUX", "NUL":
		return true
	}
	return len(stem) == 4 && (stem[:3] == "COM" || stem[:3] == "LPT") && stem[3] >= '1' && stem[3] <= '9'
}
