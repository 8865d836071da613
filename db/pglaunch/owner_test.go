package pglaunch

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// Who looks whether a folder is owned holds its lock for an instant. An owner
// to be waits for that, and for no longer.
func TestLookingAtTheLockIsNotOwning(t *testing.T) {
	t.Parallel()
	l := layout{t.TempDir()}
	looker, err := os.Create(filepath.Join(l.dir, "lock"))
	if err != nil {
		t.Fatal(err)
	}
	if got, err := tryLock(looker); err != nil || !got {
		t.Fatalf("tryLock: %t, %v", got, err)
	}
	_, err = acquire(t.Context(), l, "owner")
	if owned, ok := errors.AsType[*OwnedError](err); !ok || owned.Program != "another process" || owned.PID != 0 {
		t.Errorf("acquire of a lock that is not signed: %v", err)
	}

	time.AfterFunc(lockPause/10, func() { looker.Close() })
	own, err := acquire(t.Context(), l, "owner")
	if err != nil {
		t.Fatalf("acquire while somebody looked: %v", err)
	}
	if held, err := isOwned(l); err != nil || !held {
		t.Errorf("isOwned = %t, %v, want true", held, err)
	}
	if err := own.release(); err != nil {
		t.Fatal(err)
	}
	if held, err := isOwned(l); err != nil || held {
		t.Errorf("isOwned after release = %t, %v, want false", held, err)
	}
}
