package main

import (
	"context"
	"log/slog"
	"path/filepath"
	"sync"
	"time"

	"delaybook/cmd/internal/analyst"
	"delaybook/cmd/internal/decoder"
	"delaybook/db"
	"delaybook/db/clipfiles"
	"delaybook/domain/service"

	"github.com/spf13/pflag"
)

// clipFlags say how recordings are treated.
type clipFlags struct {
	keep    time.Duration
	most    int64 // MB
	decoder string
}

func (f *clipFlags) register(flags *pflag.FlagSet) {
	flags.DurationVar(&f.keep, "keep-clips", service.DefaultClipKeep, "how long recordings are kept; their results stay")
	flags.Int64Var(&f.most, "max-clip", service.DefaultClipBytes>>20, "most MiB of a recording")
	registerDecoder(flags, &f.decoder)
}

// registerDecoder registers the flag that names a native decoder.
func registerDecoder(flags *pflag.FlagSet, native *string) {
	flags.StringVar(native, "decoder", "", "ffmpeg to use, its ffprobe beside it: up to ten times faster than delaybook-decode, and not shut in as well")
}

func (f *clipFlags) check() error {
	if f.keep <= 0 || f.most <= 0 {
		return usage("--keep-clips and --max-clip are more than 0")
	}
	return nil
}

// A clipService is the use cases of recordings with what they stand on.
type clipService struct {
	*service.Clips
	uploads string // folder of unfinished uploads
	analyst *analyst.Analyst
}

// work analyses recordings until ctx ends.
func (c *clipService) work(ctx context.Context, log *slog.Logger) {
	var warming sync.WaitGroup
	defer warming.Wait()
	warming.Go(func() {
		if err := c.analyst.Warm(ctx); err != nil && ctx.Err() == nil {
			log.ErrorContext(ctx, "compile the decoder of recordings", "err", err)
		}
	})
	if err := c.Work(ctx); err != nil {
		log.ErrorContext(ctx, "recordings are not analysed", "err", err)
	}
}

// openClips opens the use cases of recordings, whose files are in the data
// folder.
func (p *program) openClips(use *service.Service, f *clipFlags, data string, store *db.Store) (*clipService, error) {
	files, err := clipfiles.Open(filepath.Join(data, "recordings"))
	if err != nil {
		return nil, err
	}
	a := p.analyst(f.decoder, filepath.Join(data, "decoder"))
	clips := service.NewClips(use, service.ClipOptions{
		Store: store, Files: files, Analyst: a, Viewer: a, Keep: f.keep, MostBytes: f.most << 20,
	})
	return &clipService{clips, files.Uploads(), a}, nil
}

// analyst returns what measures recordings. Without a decoder it says so when it
// is asked: all else goes on.
func (p *program) analyst(native, cache string) *analyst.Analyst {
	d, err := decoder.Open(decoder.Options{Native: native, CacheDir: cache})
	if err != nil {
		p.log.Warn("recordings can not be analysed", "err", err)
	}
	return analyst.New(d, err, now)
}
