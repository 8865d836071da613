//go:build !unix || aix || solaris

package pglaunch

import (
	"context"
	"io/fs"
	"os"
	"syscall"
)

const supported = false

func tryLock(*os.File) (bool, error) { return false, ErrUnsupported }

func ownerOf(fs.FileInfo) (uid, gid int) { return -1, -1 }

func (a account) attributes(syscall.Signal) *syscall.SysProcAttr { return nil }

func takeOver(context.Context, Options, account) error { return ErrUnsupported }

func killUnborn(context.Context, layout) error { return ErrUnsupported }
