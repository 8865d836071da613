//go:build !linux

package dbtest

import "os"

func scratchBase() string { return os.TempDir() }
