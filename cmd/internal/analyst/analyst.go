// Package analyst measures recordings: it has them decoded by a process of its
// own and hands them to the analysis of their method. The service and the
// command that needs no service stand on the same one, and get the same results.
package analyst

import (
	"context"
	"fmt"
	"sync"
	"time"

	"delaybook/cmd/internal/decoder"
	"delaybook/domain"
	"delaybook/domain/clip"
	"delaybook/domain/recording"
	"delaybook/domain/service"
)

var _ service.Analyst = (*Analyst)(nil)

// An Analyst implements service.Analyst. It is safe for concurrent use.
type Analyst struct {
	decoder *decoder.Decoder
	lacking error // why there is no decoder
	now     func() time.Time
}

// New returns an Analyst on a decoder. lacking says why there is none: each
// analysis then fails with it, and all that needs none goes on.
func New(d *decoder.Decoder, lacking error, now func() time.Time) *Analyst {
	return &Analyst{decoder: d, lacking: lacking, now: now}
}

// Warm has the builtin decoder compiled, so that nobody waits for it.
func (a *Analyst) Warm(ctx context.Context) error {
	if a.lacking != nil {
		return nil
	}
	return a.decoder.Warm(ctx)
}

// Analyse implements service.Analyst.
func (a *Analyst) Analyse(ctx context.Context, r service.AnalysisRequest, progress func(service.Progress)) (recording.Result, error) {
	if a.lacking != nil {
		return recording.Result{}, a.noDecoder()
	}
	watch := a.watch(ctx, r, progress)
	recordings := make([]*recording.Recording, 0, len(r.Files))
	for i, file := range r.Files {
		o := options(r)
		o.Info = watch.infos[i]
		decoded, err := a.decoder.Decode(ctx, file, o, func(done float64) { watch.at(i, done) })
		if refusal, ok := decoder.RefusalOf(err); ok {
			return refuse(r.Method, refusal), nil
		}
		if err != nil {
			return recording.Result{}, err
		}
		recordings = append(recordings, decoded)
	}
	switch r.Method {
	case recording.ByClip:
		return byClip(recordings[0], r.Segments), nil
	case recording.ByTracks:
		return byTracks(recordings, r.AnalysisOptions), nil
	}
	return recording.Result{}, fmt.Errorf("analyst: %q is no method of analysis", r.Method)
}

// options say what to decode for a request.
func options(r service.AnalysisRequest) decoder.DecodeOptions {
	return decoder.DecodeOptions{MaxSeconds: longest(r.Segments), SoundOnly: r.Method == recording.ByTracks}
}

func (a *Analyst) noDecoder() error {
	return &domain.Error{
		Code: domain.Conflict, Err: a.lacking,
		Message: "There is no decoder here: whoever runs the service must put delaybook-decode beside delaybook, or name an ffmpeg with --decoder.",
	}
}

// usualLength is how much of a recording is looked at, seconds: 25 events of the card.
const usualLength = 30

// longest returns how much to decode for the stretches that somebody named.
func longest(spans []service.Span) float64 {
	length := float64(usualLength)
	for _, s := range spans {
		length = max(length, s.ToS)
	}
	return length
}

func byClip(r *recording.Recording, spans []service.Span) recording.Result {
	var o clip.Options
	for _, s := range spans {
		o.Segments = append(o.Segments, clip.Span(s))
	}
	return clip.Analyse(r, o)
}

func refuse(method recording.Method, why recording.Refusal) recording.Result {
	return recording.Result{
		Method: method, Segments: []recording.Finding{}, Flags: []recording.Flag{}, Warnings: []recording.Warning{}, Refused: &why,
	}
}

// Estimate implements service.Analyst.
func (a *Analyst) Estimate(ctx context.Context, r service.AnalysisRequest) (whole time.Duration, err error) {
	if a.lacking != nil {
		return 0, a.lacking
	}
	for _, file := range r.Files {
		info, err := a.decoder.Probe(ctx, file)
		if err != nil {
			return 0, err
		}
		whole += a.decoder.Estimate(info, options(r))
	}
	return whole, nil
}

// Advice says for a request that will take long what would be quicker; it is
// empty for one that will not, and for what cannot be analysed.
func (a *Analyst) Advice(ctx context.Context, r service.AnalysisRequest) string {
	if a.lacking != nil {
		return ""
	}
	for _, file := range r.Files {
		if info, err := a.decoder.Probe(ctx, file); err == nil {
			if text := a.decoder.Advice(info, options(r)); text != "" {
				return text
			}
		}
	}
	return ""
}

// A watch tells how far decoding is and how long it will take: at first by what
// such files take, then by what this one does.
type watch struct {
	mu       sync.Mutex
	progress func(service.Progress)
	now      func() time.Time
	begun    time.Time
	infos    []*decoder.Info // of each file; nil: it cannot be probed
	shares   []time.Duration // what each file takes, by the table
	whole    time.Duration
}

// tellFrom is the part from which what was decoded says more than the table.
const tellFrom = 0.1

func (a *Analyst) watch(ctx context.Context, r service.AnalysisRequest, progress func(service.Progress)) *watch {
	n := len(r.Files)
	w := &watch{progress: progress, now: a.now, begun: a.now(), infos: make([]*decoder.Info, n), shares: make([]time.Duration, n)}
	for i, file := range r.Files {
		w.shares[i] = time.Second // a file that cannot be probed is refused soon
		if info, err := a.decoder.Probe(ctx, file); err == nil {
			w.infos[i], w.shares[i] = &info, a.decoder.Estimate(info, options(r))
		}
		w.whole += w.shares[i]
	}
	w.at(0, 0)
	return w
}

func (w *watch) at(file int, done float64) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.progress == nil {
		return
	}
	sum := time.Duration(done * float64(w.shares[file]))
	for _, before := range w.shares[:file] {
		sum += before
	}
	p := service.Progress{Done: float64(sum) / float64(w.whole), Estimate: w.whole}
	if p.Done >= tellFrom {
		p.Estimate = time.Duration(float64(w.now().Sub(w.begun)) / p.Done)
	}
	w.progress(p)
}
