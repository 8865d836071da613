package pglaunch

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
)

// initialize makes the cluster. It is made beside its place and then moved
// there, so that one that was interrupted never looks finished.
func initialize(ctx context.Context, o Options, programs Programs, acct account) error {
	l := layout{o.Dir}
	if o.Volatile {
		if err := os.WriteFile(l.volatile(), []byte("This cluster was made for tests and must not hold real data.\n"), 0o600); err != nil {
			return fmt.Errorf("mark the cluster as volatile: %w", err)
		}
	}
	if err := l.makePassword(); err != nil {
		return err
	}
	if err := killUnborn(ctx, l); err != nil {
		return err
	}
	if err := os.RemoveAll(l.unborn()); err != nil {
		return fmt.Errorf("clear an unfinished cluster away: %w", err)
	}
	if err := os.Mkdir(l.unborn(), 0o700); err != nil {
		return fmt.Errorf("make a folder for the cluster: %w", err)
	}
	if err := acct.give(l.unborn()); err != nil {
		return err
	}
	o.Logger.Info("making a new PostgreSQL cluster", "dir", o.Dir, "programs", programs.Dir, "user", acct.name)
	if err := initdb(ctx, o, programs, acct); err != nil {
		return err
	}
	// An empty data folder may be in the way; mustBeEmpty has looked.
	if err := os.Remove(l.data()); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("make way for the cluster: %w", err)
	}
	if err := os.Rename(l.unborn(), l.data()); err != nil {
		return fmt.Errorf("move the new cluster to its place: %w", err)
	}
	return nil
}

func initdb(ctx context.Context, o Options, programs Programs, acct account) (err error) {
	l := layout{o.Dir}
	// The password goes through a file of the account's: initdb cannot open a
	// descriptor that was inherited from root.
	pwfile := filepath.Join(l.dir, "password.initdb")
	defer func() { err = errors.Join(err, removeIfThere(pwfile)) }()
	if err := copyPassword(l.password(), pwfile, acct); err != nil {
		return err
	}
	args := append(initdbArgs(o.User, pwfile), "-D", l.unborn())
	if o.Volatile {
		args = append(args, "--no-sync")
	}
	cmd := exec.Command(programs.path("initdb"), args...)
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	cmd.Dir = "/" // ours may be closed to the account
	cmd.Env = plainEnv(cmd.Environ())
	cmd.SysProcAttr = acct.attributes(syscall.SIGKILL)

	p, err := start(cmd)
	if err != nil {
		return fmt.Errorf("start %s as user %s: %w", cmd.Path, acct.name, err)
	}
	select {
	case <-p.exited:
	case <-ctx.Done():
		send(p.pid, syscall.SIGKILL)
		<-p.exited
		return fmt.Errorf("make the cluster: %w", context.Cause(ctx))
	}
	if p.err != nil {
		return &ServerError{Doing: "make the cluster with " + cmd.Path, Log: said.String(), Err: p.err}
	}
	return nil
}

// initdbArgs is shared with the advice on upgrades, whose new cluster must be
// like the old one.
func initdbArgs(user, pwfile string) []string {
	return []string{
		"-U", user, "-A", "scram-sha-256", "--pwfile=" + pwfile,
		"--locale=C", "-E", "UTF8", "--data-checksums",
	}
}

// makePassword makes the password of a new cluster, whole or not at all.
func (l layout) makePassword() error {
	var secret [24]byte
	rand.Read(secret[:]) // never fails
	text := base64.RawURLEncoding.EncodeToString(secret[:]) + "\n"
	fresh := l.password() + ".new"
	if err := os.WriteFile(fresh, []byte(text), 0o600); err != nil {
		return fmt.Errorf("store the password: %w", err)
	}
	if err := os.Rename(fresh, l.password()); err != nil {
		return fmt.Errorf("store the password: %w", err)
	}
	return nil
}

func copyPassword(from, to string, acct account) error {
	raw, err := os.ReadFile(from)
	if err == nil {
		err = errors.Join(removeIfThere(to), os.WriteFile(to, raw, 0o600))
	}
	if err != nil {
		return fmt.Errorf("pass the password to initdb: %w", err)
	}
	return acct.give(to)
}

func removeIfThere(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("clear up: %w", err)
	}
	return nil
}

func shortHash(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:8])
}
