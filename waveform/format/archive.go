package format

import (
	"archive/zip"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"sort"
	"strings"
)

// maxMembers bounds the files of an archive.
const maxMembers = 100_000

// archive turns an archive into sources: its members are grouped as the files
// of a folder are.
func (f *finder) archive(rel string) []Source {
	name := filepath.Join(f.root, filepath.FromSlash(rel))
	z, err := zip.OpenReader(name)
	if err != nil {
		f.skip(rel, "an archive that "+packingFault(err))
		return nil
	}
	defer z.Close()
	if len(z.File) > maxMembers {
		f.skip(rel, fmt.Sprintf("an archive of more than %d files", maxMembers))
		return nil
	}
	f.zip, f.inZip = &z.Reader, rel
	defer func() { f.zip, f.inZip = nil, "" }()
	folders := map[string][]string{}
	seen := map[string]bool{}
	for _, m := range z.File {
		child := rel + "/" + m.Name
		switch {
		case m.FileInfo().IsDir():
			continue
		case !fs.ValidPath(m.Name) || strings.Contains(m.Name, "\\"):
			f.skip(child, "a path that leads out of the archive")
			continue
		case hidden(path.Base(m.Name)) != "" || strings.HasPrefix(m.Name, "__MACOSX/"):
			f.skip(child, "hidden")
			continue
		case m.Mode()&fs.ModeType != 0:
			f.skip(child, "no regular file")
			continue
		case seen[m.Name]:
			f.skip(child, "a second file of that name in the archive")
			continue
		}
		seen[m.Name] = true
		f.seen++
		if reason := f.unfit(child); reason != "" {
			f.skip(child, reason)
			continue
		}
		folders[path.Dir(m.Name)] = append(folders[path.Dir(m.Name)], child)
	}
	var dirs []string
	for d, files := range folders {
		dirs = append(dirs, d)
		sort.Strings(files)
	}
	sort.Strings(dirs)
	var all []Source
	for _, d := range dirs {
		at := Stem(rel)
		if d != "." {
			at = path.Join(at, d)
		}
		all = append(all, f.group(at, folders[d])...)
	}
	for i := range all {
		all[i].members = nil
		for _, m := range all[i].Files {
			all[i].members = append(all[i].members, strings.TrimPrefix(m, rel+"/"))
		}
		all[i].Files = []string{rel}
		if len(all) == 1 {
			all[i].Name = Stem(rel)
		} else if len(all[i].members) == 1 {
			all[i].Name = path.Join(Stem(rel), Stem(all[i].members[0]))
		}
	}
	return all
}

// readHead returns the first bytes of a file or of a member of the archive
// under way, unpacked.
func (f *finder) readHead(rel string) ([]byte, error) {
	if m, ok := strings.CutPrefix(rel, f.inZip+"/"); f.zip != nil && ok {
		r, err := f.zip.Open(m)
		if err != nil {
			return nil, err
		}
		defer r.Close()
		return readHead(r)
	}
	return headOf(filepath.Join(f.root, filepath.FromSlash(rel)))
}
