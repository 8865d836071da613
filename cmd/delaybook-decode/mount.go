// SPDX-License-Identifier: GPL-3.0-or-later

package main

import (
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/tetratelabs/wazero"
)

// mounts is all that the module sees of the file system: the files to read in /in, and for encode one folder.
func (o order) mounts() (wazero.FSConfig, error) {
	config := wazero.NewFSConfig()
	if len(o.in) > 0 {
		files, err := openInputs(o.in)
		if err != nil {
			return nil, err
		}
		config = config.WithFSMount(files, "/in")
	}
	if o.out == "" {
		return config, nil
	}
	entries, err := os.ReadDir(o.out)
	if err != nil {
		return nil, fmt.Errorf("look at the --out folder: %w", err)
	}
	if len(entries) > 0 {
		return nil, fmt.Errorf("the --out folder %s holds %s: name an empty folder, because a link in it would lead outside", o.out, entries[0].Name())
	}
	return config.WithDirMount(o.out, "/out"), nil
}

// inputs is a folder of which only the files named exist. It is narrower than the folders they lie in: a script
// disguised as a recording finds no neighbour to open.
type inputs map[string]*os.Root

func openInputs(files []string) (inputs, error) {
	all := inputs{}
	for _, file := range files {
		folder, name := filepath.Split(file)
		if name == "" || name == "." || name == ".." {
			return nil, fmt.Errorf("--in %q names no file", file)
		}
		if all[name] != nil {
			return nil, fmt.Errorf("two --in files are called %s: rename one", name)
		}
		root, err := os.OpenRoot(filepath.Clean(folder + "."))
		if err != nil {
			return nil, fmt.Errorf("open the folder of the file: %w", err)
		}
		all[name] = root
		if _, err := all.stat(name); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// stat refuses what is not a plain file: a link would lead outside, a pipe or a device would never end.
func (in inputs) stat(name string) (fs.FileInfo, error) {
	root := in[name]
	if root == nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	info, err := root.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fmt.Errorf("%w: not a plain file", fs.ErrPermission)}
	}
	return info, nil
}

// Open answers one of the files, or the folder that lists them.
func (in inputs) Open(name string) (fs.File, error) {
	if name == "." {
		return &listing{in: in, rest: slices.Sorted(maps.Keys(in))}, nil
	}
	if _, err := in.stat(name); err != nil {
		return nil, err
	}
	return in[name].Open(name)
}

// Stat answers without opening.
func (in inputs) Stat(name string) (fs.FileInfo, error) {
	if name == "." {
		return folderInfo{}, nil
	}
	return in.stat(name)
}

// A listing is the open folder, with the names that were not read yet.
type listing struct {
	in   inputs
	rest []string
}

func (*listing) Close() error { return nil }

func (*listing) Read([]byte) (int, error) {
	return 0, &fs.PathError{Op: "read", Path: ".", Err: fs.ErrInvalid}
}

// Stat describes the folder.
func (*listing) Stat() (fs.FileInfo, error) { return folderInfo{}, nil }

// ReadDir lists the next n files, or all that are left if n is not positive.
func (l *listing) ReadDir(n int) ([]fs.DirEntry, error) {
	if n > 0 && len(l.rest) == 0 {
		return nil, io.EOF
	}
	if n <= 0 || n > len(l.rest) {
		n = len(l.rest)
	}
	var entries []fs.DirEntry
	for _, name := range l.rest[:n] {
		info, err := l.in.stat(name)
		if err != nil {
			return entries, err
		}
		entries = append(entries, fs.FileInfoToDirEntry(info))
	}
	l.rest = l.rest[n:]
	return entries, nil
}

// folderInfo describes the folder of inputs.
type folderInfo struct{}

func (folderInfo) Name() string       { return "." }
func (folderInfo) Size() int64        { return 0 }
func (folderInfo) Mode() fs.FileMode  { return fs.ModeDir | 0o500 }
func (folderInfo) ModTime() time.Time { return time.Time{} }
func (folderInfo) IsDir() bool        { return true }
func (folderInfo) Sys() any           { return nil }
