package pglaunch_test

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/ulikunitz/xz"
)

// A repository serves one archive, whatever version is asked for.
type repository struct {
	archive  []byte
	checksum string
	requests atomic.Int64
}

func (r *repository) ServeHTTP(w http.ResponseWriter, req *http.Request) {
	r.requests.Add(1)
	switch {
	case r.archive == nil:
		http.NotFound(w, req)
	case strings.HasSuffix(req.URL.Path, ".sha256"):
		_, _ = io.WriteString(w, r.checksum) // the client may have gone
	default:
		_, _ = w.Write(r.archive)
	}
}

func serveArchive(t *testing.T, archive []byte) (*repository, string) {
	t.Helper()
	r := &repository{archive: archive, checksum: fmt.Sprintf("%x", sha256.Sum256(archive))}
	server := httptest.NewServer(r)
	t.Cleanup(server.Close)
	return r, server.URL
}

// programArchive is a zip with a tar.xz of this machine's programs: how the
// embedding library's archives are made. The programs find the rest of their
// installation by the path they were built with, or beside them.
var programArchive = sync.OnceValues(func() ([]byte, error) {
	bin, err := programsFolder(context.Background())
	if err != nil {
		return nil, err
	}
	var files []archived
	for _, name := range []string{"postgres", "initdb"} {
		content, err := os.ReadFile(filepath.Join(bin, name))
		if err != nil {
			return nil, err
		}
		files = append(files, archived{name: "bin/" + name, content: content})
	}
	for _, name := range []string{"lib", "share"} {
		beside := filepath.Join(filepath.Dir(bin), name)
		if _, err := os.Stat(beside); err == nil {
			files = append(files, archived{name: name, link: beside})
		}
	}
	packed, err := tarXz(files)
	if err != nil {
		return nil, err
	}
	return zipped(packed)
})

// An archived is a program, or a link.
type archived struct {
	name    string
	content []byte
	link    string
}

func tarXz(files []archived) ([]byte, error) {
	var packed bytes.Buffer
	// A small dictionary packs 9 MB in 0.8 s instead of 2.2 s.
	compressor, err := xz.WriterConfig{DictCap: 1 << 16}.NewWriter(&packed)
	if err != nil {
		return nil, err
	}
	w := tar.NewWriter(compressor)
	for _, f := range files {
		header := &tar.Header{Name: f.name, Mode: 0o755, Size: int64(len(f.content)), Typeflag: tar.TypeReg}
		if f.link != "" {
			header.Typeflag, header.Linkname = tar.TypeSymlink, f.link
		}
		if err := w.WriteHeader(header); err != nil {
			return nil, err
		}
		if _, err := w.Write(f.content); err != nil {
			return nil, err
		}
	}
	if err := errors.Join(w.Close(), compressor.Close()); err != nil {
		return nil, err
	}
	return packed.Bytes(), nil
}

// brokenOff is an archive of which the programs arrive and the rest does not.
func brokenOff() ([]byte, error) {
	script := []byte("#!/bin/sh\necho 'postgres (PostgreSQL) 13.1'\n")
	rest := make([]byte, 1<<20)
	rand.NewChaCha8([32]byte{}).Read(rest) // does not compress
	packed, err := tarXz([]archived{
		{name: "bin/postgres", content: script},
		{name: "bin/initdb", content: script},
		{name: "share/rest", content: rest},
	})
	if err != nil {
		return nil, err
	}
	return zipped(packed[:len(packed)-len(rest)/2])
}

func zipped(packed []byte) ([]byte, error) {
	var archive bytes.Buffer
	z := zip.NewWriter(&archive)
	w, err := z.Create("postgres.txz")
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(packed); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return archive.Bytes(), nil
}
