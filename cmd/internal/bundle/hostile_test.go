package bundle

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"mashward/controller/record"
)

// item is one file of a tar under construction.
type item struct {
	header tar.Header
	text   []byte
}

func items(t *testing.T) []item {
	t.Helper()
	_, out := packed(t)
	files, err := unpack(out)
	if err != nil {
		t.Fatal(err)
	}
	var all []item
	for i, text := range files {
		all = append(all, item{tar.Header{
			Typeflag: tar.TypeReg, Name: parts[i].name, Size: int64(len(text)), Mode: 0o644, ModTime: time.Unix(0, 0), Format: tar.FormatUSTAR,
		}, text})
	}
	return all
}

func tarOf(t *testing.T, all []item) []byte {
	t.Helper()
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for _, i := range all {
		if err := w.WriteHeader(&i.header); err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(i.text); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// hostile is a file that is no bundle, and what has to be said of it.
type hostile struct {
	file []byte
	says string
}

// changed is a bundle some files of which are others, as a tar.
func changed(t *testing.T, f func(all []item) []item) []byte { return tarOf(t, f(items(t))) }

// other is a bundle with another text for a file, and a manifest that agrees.
func other(t *testing.T, at int, text []byte) []byte {
	return changed(t, func(all []item) []item {
		all[at].text, all[at].header.Size = text, int64(len(text))
		var m manifest
		if err := json.Unmarshal(all[0].text, &m); err != nil {
			t.Fatal(err)
		}
		m.Files[at-1] = listed{parts[at].name, len(text), hashOf(text)}
		all[0].text, _ = written(m)
		all[0].header.Size = int64(len(all[0].text))
		return all
	})
}

// claims is a bundle whose record claims another size, the header's sum put right.
func claims(good []byte, size string) []byte {
	b := bytes.Clone(good)
	at := bytes.Index(b, []byte("record.batch\x00"))
	copy(b[at+124:], size+"\x00")
	copy(b[at+148:], "        ")
	sum := 0
	for _, c := range b[at : at+512] {
		sum += int(c)
	}
	copy(b[at+148:], []byte(octal(sum)))
	return b
}

func zipBomb() []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, _ := z.Create("record.batch")
	_, _ = w.Write(make([]byte, 50<<20)) // 50 MB of zeros in 50 kB
	_ = z.Close()
	return b.Bytes()
}

func squeezed(text []byte) []byte {
	var b bytes.Buffer
	g := gzip.NewWriter(&b)
	_, _ = g.Write(text)
	_ = g.Close()
	return b.Bytes()
}

func TestBytesThatAreNoBundleAreRefusedWithAReason(t *testing.T) {
	good := tarOf(t, items(t))
	if _, err := Read(bytes.NewReader(good)); err != nil {
		t.Fatal("the good one: ", err)
	}
	refused(t, map[string]hostile{
		"nothing":             {nil, "ends too early"},
		"a picture":           {[]byte("\x89PNG\r\n\x1a\n" + strings.Repeat("x", 600)), "no bundle"},
		"a zip bomb":          {zipBomb(), "a compressed file"},
		"a squeezed bundle":   {squeezed(good), "a compressed file"},
		"too much":            {make([]byte, MaxSize+1), "more than 41943040 bytes"},
		"a huge claim":        {claims(good, "77777777777"), "claims 8589934591 bytes"},
		"a claim too long":    {claims(good, "00100000000"), "ends too early"},
		"cut off":             {good[:len(good)/2], "ends too early"},
		"without its end":     {good[:len(good)-1024], "ends too early"},
		"something behind it": {append(bytes.Clone(good), 'x'), "something stands behind its end"},
		"a turned byte":       {turned(good, bytes.Index(good, []byte("mashward record 1"))+300), "record.batch is not as it was packed"},
		"another manifest":    {bytes.Replace(good, []byte(`"format": "mashward bundle 1"`), []byte(`"format": "mashward bundle 9"`), 1), `reads "mashward bundle 1"`},
		"a key more":          {bytes.Replace(good, []byte(`"format"`), []byte(`"farmat"`), 1), "manifest cannot be read"},
		"figures of no JSON":  {other(t, 4, []byte("{")), "report.json is no JSON"},
		"a long profile":      {other(t, 2, make([]byte, parts[2].most+1)), "profile.yaml claims"},
	})
}

func TestATarWithOtherFilesIsRefusedWithAReason(t *testing.T) {
	refused(t, map[string]hostile{
		"a path":        {changed(t, func(a []item) []item { a[1].header.Name = "../../record.batch"; return a }), `holds "../../record.batch" where record.batch has to be`},
		"a whole path":  {changed(t, func(a []item) []item { a[1].header.Name = "/etc/record.batch"; return a }), "no bundle"},
		"another order": {changed(t, func(a []item) []item { a[1], a[2] = a[2], a[1]; return a }), "where record.batch has to be"},
		"one twice":     {changed(t, func(a []item) []item { return append(a, a[1]) }), `"record.batch" beside what a bundle has`},
		"one too few":   {changed(t, func(a []item) []item { return a[:4] }), "ends too early"},
		"a link": {changed(t, func(a []item) []item {
			a[3] = item{tar.Header{Typeflag: tar.TypeSymlink, Name: "kettle.json", Linkname: "/etc/passwd"}, nil}
			return a
		}), "kettle.json is no ordinary file"},
		"a device": {changed(t, func(a []item) []item {
			a[3] = item{tar.Header{Typeflag: tar.TypeChar, Name: "kettle.json"}, nil}
			return a
		}), "kettle.json is no ordinary file"},
		"more than tar holds": {changed(t, func(a []item) []item {
			a[1].header.Format, a[1].header.PAXRecords = tar.FormatPAX, map[string]string{"X.y": "z"}
			return a
		}), "record.batch is no ordinary file"},
	})
}

// A tar as it should be around a record that Pack would not have written.
func TestARecordThatNoPackerWroteIsRefused(t *testing.T) {
	storage, out := packed(t)
	back, err := Read(bytes.NewReader(out))
	if err != nil {
		t.Fatal(err)
	}
	named := func(name string) []byte {
		r, err := record.Read(back)
		if err != nil {
			t.Fatal(err)
		}
		m := &record.Memory{}
		if err := record.Copy(m, r, func(h *record.Head) { h.StepNames = []string{"", name} }); err != nil {
			t.Fatal(err)
		}
		return m.Bytes
	}
	if _, err := Read(bytes.NewReader(other(t, 1, named("wash")))); err != nil {
		t.Error("a plain name: ", err)
	}
	refused(t, map[string]hostile{
		"no record":           {other(t, 1, []byte("no record")), "record.batch is none"},
		"a turned byte":       {other(t, 1, turned(back.Bytes, len(back.Bytes)/2)), "record.batch cannot be read"},
		"a torn end":          {other(t, 1, back.Bytes[:len(back.Bytes)-3]), "record.batch does not end whole"},
		"notes":               {other(t, 1, storage.Bytes), "record.batch has notes"},
		"a terminal's orders": {other(t, 1, named("\x1b]0;taken\x07\x1b[2J")), "characters in its names that no name has"},
	})
}

func refused(t *testing.T, all map[string]hostile) {
	t.Helper()
	for name, c := range all {
		back, err := Read(bytes.NewReader(c.file))
		if err == nil || back != nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
	}
}

func turned(b []byte, at int) []byte {
	b = bytes.Clone(b)
	b[at] ^= 1
	return b
}

func octal(n int) string {
	text := ""
	for i := 0; i < 6; i++ {
		text = string(rune('0'+n&7)) + text
		n >>= 3
	}
	return text + "\x00 "
}
