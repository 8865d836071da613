package db

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"time"

	"delaybook/domain"

	"github.com/jackc/pgx/v5"
)

const (
	// defaultLookAgain is how long Watch trusts a silent connection before it
	// asks for the version itself, which also shows whether the connection still
	// lives. It is also how long an answer may take.
	defaultLookAgain = 15 * time.Second

	firstReconnect = 100 * time.Millisecond
	slowReconnect  = 5 * time.Second
)

// Watch implements service.Store. It calls changed and lost from the goroutine
// that called it. Versions that come while changed runs are passed over but for
// the newest.
func (s *Store) Watch(ctx context.Context, changed func(domain.Version), lost func(error)) {
	pause := firstReconnect
	for down := false; ; {
		err := s.watchOnce(ctx, func(v domain.Version) {
			down, pause = false, firstReconnect
			changed(v)
		})
		if ctx.Err() != nil {
			return
		}
		if !down {
			down = true
			lost(fmt.Errorf("watch the book: %w", err))
		}
		if !sleep(ctx, pause) {
			return
		}
		pause = min(2*pause, slowReconnect)
	}
}

// watchOnce watches over one connection until it fails or ctx ends.
func (s *Store) watchOnce(ctx context.Context, changed func(domain.Version)) error {
	start, cancel := context.WithTimeout(ctx, s.lookAgain)
	defer cancel()
	conn, err := pgx.ConnectConfig(start, s.pool.Config().ConnConfig)
	if err != nil {
		return err
	}
	l := listener{conn: conn, lookAgain: s.lookAgain, newest: make(chan domain.Version, 1)}
	failed := make(chan error, 1)
	go func() {
		failed <- l.listen(ctx)
		close(l.newest)
	}()
	for v := range l.newest {
		if ctx.Err() == nil {
			changed(v)
		}
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.lookAgain)
	defer cancel()
	return errors.Join(<-failed, conn.Close(end))
}

// A listener keeps in newest the newest version that was not taken out yet.
type listener struct {
	conn      *pgx.Conn
	lookAgain time.Duration
	newest    chan domain.Version
}

// listen goes on from the present version until the connection fails or ctx ends.
func (l *listener) listen(ctx context.Context) error {
	start, cancel := context.WithTimeout(ctx, l.lookAgain)
	defer cancel()
	if _, err := l.conn.Exec(start, `LISTEN book`); err != nil {
		return err
	}
	known, err := l.ask(ctx)
	if err != nil {
		return err
	}
	for l.offer(known); ; {
		v, err := l.next(ctx)
		if err != nil {
			return err
		}
		if v > known {
			known = v
			l.offer(known)
		}
	}
}

// offer replaces what waits in newest. It must not be called concurrently.
func (l *listener) offer(v domain.Version) {
	select {
	case <-l.newest:
	default:
	}
	l.newest <- v
}

// next returns the version of the next notification, or after a silence the
// version of the book.
func (l *listener) next(ctx context.Context) (domain.Version, error) {
	wait, cancel := context.WithTimeout(ctx, l.lookAgain)
	defer cancel()
	n, err := l.conn.WaitForNotification(wait)
	switch {
	case err == nil:
		v, err := strconv.ParseInt(n.Payload, 10, 64)
		return domain.Version(v), err
	case wait.Err() == nil || ctx.Err() != nil:
		return 0, err
	}
	return l.ask(ctx)
}

func (l *listener) ask(ctx context.Context) (v domain.Version, err error) {
	ctx, cancel := context.WithTimeout(ctx, l.lookAgain)
	defer cancel()
	err = l.conn.QueryRow(ctx, selectVersion).Scan(&v)
	return v, err
}
