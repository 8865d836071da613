package analyst

import (
	"context"
	"math"

	"delaybook/cmd/internal/decoder"
	"delaybook/domain"
	"delaybook/domain/onset"
	"delaybook/domain/service"
)

var _ service.Viewer = (*Analyst)(nil)

const (
	listenS    = 300 // seconds that are listened to: who steps through more cuts the recording
	mostOnsets = 24
)

// Stills implements service.Viewer.
func (a *Analyst) Stills(ctx context.Context, file string, fromS float64, n, width int) ([]service.Still, error) {
	if a.lacking != nil {
		return nil, a.noDecoder()
	}
	frames, err := a.decoder.Frames(ctx, file, fromS, n, width)
	if err != nil {
		return nil, shown(err)
	}
	stills := make([]service.Still, 0, len(frames))
	for _, f := range frames {
		stills = append(stills, service.Still{Ticks: int64(math.Round(f.PTS * service.TicksPerS)), JPEG: f.JPEG})
	}
	return stills, nil
}

// Listen implements service.Viewer.
func (a *Analyst) Listen(ctx context.Context, file string) (service.Hearing, error) {
	if a.lacking != nil {
		return service.Hearing{}, a.noDecoder()
	}
	info, err := a.decoder.Probe(ctx, file)
	if err != nil {
		return service.Hearing{}, shown(err)
	}
	heard := service.Hearing{DurationS: info.DurationS, Onsets: []onset.Onset{}}
	if info.Video != nil {
		heard.FPS = info.Video.NominalFPS
	}
	if len(info.Sounds) == 0 {
		return heard, nil
	}
	decoded, err := a.decoder.Decode(ctx, file, decoder.DecodeOptions{MaxSeconds: listenS, SoundOnly: true}, nil)
	if err != nil {
		return service.Hearing{}, shown(err)
	}
	if _, found := onset.Find(decoded.Sounds, mostOnsets); found != nil {
		heard.Onsets = found
	}
	heard.DurationS = max(heard.DurationS, decoded.DecodedS)
	return heard, nil
}

// shown makes a refusal an error that people read.
func shown(err error) error {
	if refusal, ok := decoder.RefusalOf(err); ok {
		return domain.Errorf(domain.Conflict, "%s %s", refusal.Text, refusal.Try)
	}
	return err
}
