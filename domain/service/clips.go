package service

import (
	"context"
	"errors"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
)

// ClipOptions are what Clips stand on. Store, Files and Analyst are needed.
type ClipOptions struct {
	Store   ClipStore
	Files   ClipFiles
	Analyst Analyst
	Viewer  Viewer // nil: nobody steps through recordings here

	Keep      time.Duration // how long recordings are kept; 0: a week
	MostBytes int64         // of all files of a clip; 0: 1 GiB
	Longest   time.Duration // that an analysis may take; 0: 20 minutes
	Beat      time.Duration // between signs of life of an analysis; 0: 2 s
}

// The defaults of ClipOptions.
const (
	DefaultClipKeep  = 7 * 24 * time.Hour
	DefaultClipBytes = 1 << 30

	defaultLongest = 20 * time.Minute
	defaultBeat    = 2 * time.Second
)

// Clips are the use cases of recordings: they take them in, have them analysed,
// and put what people accept of them into the book. They are safe for concurrent use.
type Clips struct {
	ClipOptions
	service *Service
	ending  chan struct{} // closed when Work ends: who watches is let go
	looking chan struct{} // holds one while frames are decoded for somebody
}

// NewClips returns the use cases of recordings for the book of s.
func NewClips(s *Service, o ClipOptions) *Clips {
	o.Keep, o.Longest, o.Beat = orDefault(o.Keep, DefaultClipKeep), orDefault(o.Longest, defaultLongest), orDefault(o.Beat, defaultBeat)
	o.MostBytes = orDefault(o.MostBytes, DefaultClipBytes)
	return &Clips{ClipOptions: o, service: s, ending: make(chan struct{}), looking: make(chan struct{}, 1)}
}

func orDefault[T comparable](x, otherwise T) T {
	if x == *new(T) {
		return otherwise
	}
	return x
}

// A ClipView is a clip with the names of what it refers to.
type ClipView struct {
	*Clip
	RigSlug  domain.Slug
	CrewSlug domain.Slug
}

// Name returns CREW.SLUG of the clip's rig.
func (v ClipView) Name() string { return string(v.CrewSlug) + "." + string(v.RigSlug) }

// Clip returns a clip of a rig that the caller may see.
func (c *Clips) Clip(ctx context.Context, r Request, id string) (ClipView, error) {
	clip, rig, b, err := c.find(ctx, r, id)
	if err != nil {
		return ClipView{}, err
	}
	return view(b, rig, clip), nil
}

// OfRig returns the clips of a rig, newest first, without evidence and with the
// first segment of their results only.
func (c *Clips) OfRig(ctx context.Context, r Request, name string) ([]ClipView, error) {
	b, err := c.service.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return nil, err
	}
	clips, err := c.Store.ClipsOf(ctx, rig.ID)
	if err != nil {
		return nil, err
	}
	views := make([]ClipView, 0, len(clips))
	for _, clip := range clips {
		views = append(views, view(b, rig, clip))
	}
	return views, nil
}

func view(b *book.Book, rig *book.Rig, clip *Clip) ClipView {
	v := ClipView{Clip: clip, RigSlug: rig.Slug}
	if crew, ok := b.Crew(rig.Crew); ok {
		v.CrewSlug = crew.Slug
	}
	return v
}

// find finds a clip on a rig that the caller may see.
func (c *Clips) find(ctx context.Context, r Request, id string) (*Clip, *book.Rig, *book.Book, error) {
	if err := r.Caller.need(domain.Reader); err != nil {
		return nil, nil, nil, err
	}
	missing := domain.Errorf(domain.NotFound, "There is no clip %q.", short(id))
	parsed, ok := parseID(id)
	if !ok {
		return nil, nil, nil, missing
	}
	b, err := c.service.bookFor(ctx, r)
	if err != nil {
		return nil, nil, nil, err
	}
	clip, err := c.Store.Clip(ctx, domain.ClipID{UUID: parsed})
	if err != nil {
		return nil, nil, nil, err
	}
	if clip == nil || clip.State == ClipDeleted {
		return nil, nil, nil, missing
	}
	rig, ok := b.Rig(clip.Rig)
	if !ok || !r.Caller.sees(rig) {
		return nil, nil, nil, missing
	}
	return clip, rig, b, nil
}

// findToChange finds a clip that the caller may decide on.
func (c *Clips) findToChange(ctx context.Context, r Request, id string) (*Clip, *book.Rig, *book.Book, error) {
	clip, rig, b, err := c.find(ctx, r, id)
	if err != nil {
		return nil, nil, nil, err
	}
	return clip, rig, b, r.Caller.changes(rig, domain.Tech)
}

// change changes a clip that the caller may decide on, if it is the copy that
// match says. fn may return errAsItIs.
func (c *Clips) change(ctx context.Context, r Request, id string, match Match, fn func(*Clip) error) (ClipView, error) {
	clip, rig, b, err := c.findToChange(ctx, r, id)
	if err != nil {
		return ClipView{}, err
	}
	changed, err := c.Store.ChangeClip(ctx, clip.ID, func(now *Clip) error {
		clip = now
		if err := repeats(now, fn); err != nil {
			return err
		}
		if err := match.check(now.Row); err != nil {
			return err
		}
		return fn(now)
	})
	if errors.Is(err, errAsItIs) {
		return view(b, rig, clip), nil
	}
	if err != nil {
		return ClipView{}, err
	}
	return view(b, rig, changed), nil
}

// errAsItIs says that a clip is already as it was asked to be.
var errAsItIs = errors.New("the clip is as it was asked to be")

// repeats returns errAsItIs if fn has nothing to change, which makes a write
// that comes twice safe whatever copy it names.
func repeats(now *Clip, fn func(*Clip) error) error {
	trial := *now
	if err := fn(&trial); errors.Is(err, errAsItIs) {
		return err
	}
	return nil
}
