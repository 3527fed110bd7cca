package format

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// tree writes files into a fresh folder.
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, content := range files {
		p := filepath.Join(root, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func names(sources []Source) []string {
	var all []string
	for _, s := range sources {
		all = append(all, s.Name)
	}
	return all
}

func TestFindTree(t *testing.T) {
	root := tree(t, map[string]string{
		"600V/shot-02.csv": plain, "600V/shot-01.csv.gz": pack(plain), "800V/shot-01.CSV": plain,
		"a.csv": plain, "a.txt": plain, "noext": plain, "notes": "met at nine", "README.md": "x", "bench.toml": "x",
		"readme.txt": "x", "scope.png": "x", ".hidden.csv": plain, "broken.csv": "",
		"out/shots.csv": "x", "out/quantities.csv": "x", "blob.bin": "\x00\x01\x02",
	})
	sources, skipped, err := Find(root, Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"600V/shot-01", "600V/shot-02", "800V/shot-01", "a.csv", "a.txt", "broken", "noext"}
	if d := cmp.Diff(want, names(sources)); d != "" {
		t.Error(d)
	}
	wantSkipped := []Skipped{
		{".hidden.csv", "hidden"}, {"README.md", "a note, not a capture"}, {"bench.toml", "a .toml file, not a capture"},
		{"blob.bin", "no known format"}, {"notes", "text without a table of samples: settings or notes"},
		{"out", "a folder of results, and what lies in it; move captures out of it"}, {"readme.txt", "a note, not a capture"}, {"scope.png", "a picture, not a capture"},
	}
	if d := cmp.Diff(wantSkipped, skipped); d != "" {
		t.Error(d)
	}
	c, err := sources[0].Read()
	if err != nil {
		t.Fatal(err)
	}
	// printf of the packed file through sha256sum would give the same; the
	// length and the bytes on disk are what counts.
	if c[0].Name != "600V/shot-01" || c[0].Files[0] != "600V/shot-01.csv.gz" || len(c[0].SHA256[0]) != 64 || c[0].Segments != 1 {
		t.Errorf("%+v", c[0])
	}
}

// The hash is that of the file's bytes: FIPS 180-2 gives the digest of "abc"
// (from memory); here that of a whole file, from sha256sum of GNU coreutils.
func TestHash(t *testing.T) {
	c, err := readOne(write(t, "a.csv", "t,a\n0,1\n1e-9,2\n2e-9,3\n"))
	if err != nil {
		t.Fatal(err)
	}
	if got := c.SHA256[0]; got != "758509bdc61a2c96f457c1f171abe5a1a94984b95d03799f881ca1394cbb6fd0" {
		t.Error(got)
	}
}

func TestFindFile(t *testing.T) {
	p := write(t, "shot-012.csv.gz", pack(plain))
	sources, _, err := Find(p, Options{})
	want := []Source{{Name: "shot-012", Dir: filepath.Dir(p), Files: []string{"shot-012.csv.gz"}}}
	if d := cmp.Diff(want, sources, cmpopts.IgnoreUnexported(Source{})); d != "" || err != nil {
		t.Error(d, err)
	}
}

func TestFindErrors(t *testing.T) {
	root := tree(t, map[string]string{"README.md": "x", "sub/setup.toml": "x"})
	for p, want := range map[string]string{
		root:                        "ROOT: no capture found in 2 files; looked for .csv, .txt, .tsv, .dat, .asc, .npy, .npz, .mat, .h5, .hdf5, .cfg, .cff, .raw, .parquet and files that are such by content, also packed, in this folder and those below",
		filepath.Join(root, "gone"): "ROOT/gone: no such file or folder",
	} {
		_, _, err := Find(p, Options{})
		if err == nil {
			t.Fatal("no error")
		}
		if got := filepath.ToSlash(strings.ReplaceAll(err.Error(), root, "ROOT")); got != want {
			t.Errorf("%s; want %s", got, want)
		}
	}
}

func TestFindLinks(t *testing.T) {
	root := tree(t, map[string]string{"sub/a.csv": plain})
	if err := os.Symlink(root, filepath.Join(root, "sub", "loop")); err != nil {
		t.Skip(err) // needs a privilege on Windows
	}
	if err := os.Symlink(filepath.Join(root, "nowhere"), filepath.Join(root, "dead.csv")); err != nil {
		t.Fatal(err)
	}
	sources, skipped, err := Find(root, Options{})
	if d := cmp.Diff([]string{"sub/a"}, names(sources)); d != "" || err != nil {
		t.Error(d, err)
	}
	want := []Skipped{{"dead.csv", "a link that leads nowhere"}, {"sub/loop", "a link to a folder that was visited already"}}
	if d := cmp.Diff(want, skipped); d != "" {
		t.Error(d)
	}
}

func channelFile(name, unit, value string) string {
	return "TIME," + name + "\ns," + unit + "\n0," + value + "\n1e-9," + value + "\n2e-9," + value + "\n"
}

func TestChannelFolder(t *testing.T) {
	root := tree(t, map[string]string{
		"shot-1/CH1.csv": channelFile("CH1", "V", "1"), "shot-1/CH2.csv": channelFile("CH2", "A", "2"),
		"shot-2/F0000CH1.CSV": channelFile("Level", "V", "3"), "shot-2/F0000CH2.CSV": channelFile("Level", "V", "4"),
		"many/001.csv": channelFile("Level", "V", "5"), "many/002.csv": channelFile("Level", "V", "6"),
	})
	sources, _, err := Find(root, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"many/001", "many/002", "shot-1", "shot-2"}, names(sources)); d != "" {
		t.Fatal(d)
	}
	if !strings.HasPrefix(sources[0].Note, "one of 2 files with one channel each") || sources[2].Note != "2 files with one channel each and the same time axis, taken as one shot" {
		t.Errorf("%q, %q", sources[0].Note, sources[2].Note)
	}
	for i, want := range [][]string{2: {"CH1 V 1", "CH2 A 2"}, 3: {"CH1 V 3", "CH2 V 4"}} {
		if want == nil {
			continue
		}
		c, err := sources[i].Read()
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, tr := range c[0].Traces {
			got = append(got, strings.Join([]string{tr.Name, tr.Unit, string(rune('0' + int(tr.Y[0])))}, " "))
		}
		if d := cmp.Diff(want, got); d != "" || len(c[0].SHA256) != 2 || len(c) != 1 {
			t.Error(d)
		}
	}
	separate, _, err := Find(root, Options{Separate: true})
	if err != nil || len(separate) != 6 {
		t.Error(names(separate), err)
	}
}

// The root itself may be the shot; and files whose axes part further down are
// refused when read.
func TestChannelFolderRoot(t *testing.T) {
	root := tree(t, map[string]string{"dpt/CH1.csv": channelFile("CH1", "V", "1"), "dpt/CH2.csv": channelFile("CH2", "A", "2")})
	dir := filepath.Join(root, "dpt")
	sources, _, err := Find(dir, Options{})
	if d := cmp.Diff([]string{"dpt"}, names(sources)); d != "" || err != nil {
		t.Fatal(d, err)
	}
	if err := os.WriteFile(filepath.Join(dir, "CH2.csv"), []byte(strings.Replace(channelFile("CH2", "A", "2"), "2e-9,2\n", "", 1)), 0o666); err != nil {
		t.Fatal(err)
	}
	_, err = sources[0].Read()
	want := "CH2.csv: 2 samples from 0.000 s every 1.000 ns; expected the time axis of CH1.csv: 3 samples from 0.000 s every 1.000 ns; keep the files of one shot in one folder"
	if err == nil || !strings.HasSuffix(err.Error(), want) {
		t.Errorf("%v; want ...%s", err, want)
	}
}

// Several shots in one folder, a file for each channel: the names tell which
// belong together.
func TestGroupByName(t *testing.T) {
	root := tree(t, map[string]string{
		"a/F0001CH1.CSV": channelFile("Level", "V", "1"), "a/F0001CH2.CSV": channelFile("Level", "A", "2"),
		"a/F0002CH1.CSV": channelFile("Level", "V", "3"), "a/F0002CH2.CSV": channelFile("Level", "A", "4"),
		"b/C1--run--00.csv": channelFile("Ampl", "V", "1"), "b/C2--run--00.csv": channelFile("Ampl", "V", "2"),
		"b/C1--run--01.csv": channelFile("Ampl", "V", "1"), "b/C2--run--01.csv": channelFile("Ampl", "V", "2"),
		"c/shot1_ch1.csv": channelFile("Ampl", "V", "1"), "c/shot2_ch1.csv": channelFile("Ampl", "V", "2"),
	})
	sources, _, err := Find(root, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"a/F0001", "a/F0002", "b/run--00", "b/run--01", "c/shot1_ch1", "c/shot2_ch1"}, names(sources)); d != "" {
		t.Fatal(d)
	}
	c, err := sources[1].Read()
	if err != nil || len(c[0].Traces) != 2 || c[0].Traces[1].Y[0] != 4 || c[0].Traces[1].Unit != "A" {
		t.Errorf("%v %v", c, err)
	}
	if want := "the names of 4 files tell shot and channel: 2 shots of 2 channels each"; sources[0].Note != want {
		t.Error(sources[0].Note)
	}
}
