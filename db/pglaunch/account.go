package pglaunch

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
)

// An account is the system user that the server runs as.
type account struct {
	name     string
	uid, gid int
	drop     bool // it is not the user of this process, which is root
}

// chooseAccount is this process's own user, unless that is root: then it is
// the owner of the cluster if there is one, else postgres, else nobody.
func chooseAccount(data string) (account, error) {
	return chooseAccountFor(os.Geteuid(), data, user.Lookup)
}

func chooseAccountFor(euid int, data string, lookup func(string) (*user.User, error)) (account, error) {
	info, err := os.Stat(data)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return account{}, fmt.Errorf("owner of the cluster: %w", err)
	}
	exists := err == nil
	if euid != 0 {
		if exists {
			if uid, _ := ownerOf(info); uid != euid {
				return account{}, &FolderError{data, fmt.Sprintf("belongs to user %s, and this process runs as %s; run it as that user or as root", userName(uid), userName(euid))}
			}
		}
		return account{name: userName(euid), uid: euid, gid: os.Getegid()}, nil
	}
	if exists {
		if uid, gid := ownerOf(info); uid != 0 {
			return account{name: userName(uid), uid: uid, gid: gid, drop: true}, nil
		}
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := lookup(name)
		if err != nil {
			continue
		}
		uid, uidErr := strconv.Atoi(u.Uid)
		gid, gidErr := strconv.Atoi(u.Gid)
		if uidErr == nil && gidErr == nil && uid != 0 {
			return account{name: name, uid: uid, gid: gid, drop: true}, nil
		}
	}
	return account{}, errors.New("PostgreSQL refuses to run as root, and there is no user postgres or nobody to run it as; " +
		"make one, run this program as another user, or set DATABASE_URL")
}

func userName(uid int) string {
	if u, err := user.LookupId(strconv.Itoa(uid)); err == nil {
		return u.Username
	}
	return strconv.Itoa(uid)
}

// give hands a file or folder to the account.
func (a account) give(path string) error {
	if !a.drop {
		return nil
	}
	if err := os.Lchown(path, a.uid, a.gid); err != nil {
		return fmt.Errorf("hand over to user %s: %w", a.name, err)
	}
	return nil
}

// canReach checks that the account may pass every existing folder above path.
// Without it the server's own message is about the data folder, which is not
// at fault.
func (a account) canReach(path string) error {
	if !a.drop {
		return nil
	}
	for _, folder := range foldersAbove(path) {
		// Follow links: what they lead to has folders above it, too.
		real, err := filepath.EvalSymlinks(folder)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("look at the folders above %s: %w", path, err)
		}
		for _, f := range append(foldersAbove(real), real) {
			if err := a.mayPass(f); err != nil {
				return err
			}
		}
	}
	return nil
}

// foldersAbove lists /, /a, /a/b for /a/b/c.
func foldersAbove(path string) []string {
	var all []string
	for dir := filepath.Dir(path); ; dir = filepath.Dir(dir) {
		all = append(all, dir)
		if dir == filepath.Dir(dir) {
			slices.Reverse(all)
			return all
		}
	}
}

// canRun checks that the account may run a program.
func (a account) canRun(program string) error {
	if err := a.canReach(program); err != nil {
		return err
	}
	return a.mayPass(program)
}

// mayPass checks the search permission of one folder, or that to run one
// program, by its mode.
func (a account) mayPass(folder string) error {
	if !a.drop {
		return nil
	}
	info, err := os.Stat(folder)
	if err != nil {
		return fmt.Errorf("look at permissions: %w", err)
	}
	uid, gid := ownerOf(info)
	bit := fs.FileMode(0o001)
	switch {
	case uid == a.uid:
		bit = 0o100
	case gid == a.gid:
		bit = 0o010
	}
	if info.Mode().Perm()&bit != 0 {
		return nil
	}
	return &FolderError{folder, fmt.Sprintf("(mode %04o) cannot be passed by user %s, who must run the database because PostgreSQL refuses to run as root; "+
		"use another folder (for data /var/lib/delaybook, say), or let that user pass: chmod o+x %s", info.Mode().Perm(), a.name, shellQuote(folder))}
}
