package main

import (
	"context"
	"sync"
)

// each runs work on all items, several at once, and hands the results on in
// the order of the items as soon as they are there: a long study that is
// interrupted has printed what it found. It starts no more once work or emit
// has failed or the context is done.
func each[T, R any](ctx context.Context, workers int, items []T, work func(int, T) (R, error), emit func(R) error) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	results := make([]chan R, len(items))
	for k := range results {
		results[k] = make(chan R, 1)
	}
	queue := make(chan int)
	var running sync.WaitGroup
	defer running.Wait()
	for range workers {
		running.Go(func() {
			for k := range queue {
				r, err := work(k, items[k])
				if err != nil {
					cancel(err)
					return
				}
				results[k] <- r
			}
		})
	}
	running.Go(func() {
		defer close(queue)
		for k := range items {
			select {
			case queue <- k:
			case <-ctx.Done():
				return
			}
		}
	})
	for k := range items {
		select {
		case r := <-results[k]:
			if err := emit(r); err != nil {
				cancel(err)
				return err
			}
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
	return nil
}
