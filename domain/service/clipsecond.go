package service

import (
	"context"

	"delaybook/domain"
	"delaybook/domain/recording"
)

// AwaitsSecond returns an error unless the caller may add a second file to a clip.
func (c *Clips) AwaitsSecond(ctx context.Context, r Request, id string) error {
	clip, _, _, err := c.findToChange(ctx, r, id)
	if err != nil {
		return err
	}
	return clip.awaitsSecond()
}

func (c *Clip) awaitsSecond() error {
	if len(c.Files) == 1 && c.State == ClipUploaded && c.Options.Method == recording.ByTracks && c.Kept {
		return nil
	}
	return domain.Errorf(domain.Conflict, "The clip awaits no second file: it is %s and has %d.", c.State, len(c.Files))
}

// AddSecond adds a file of this machine to a clip that awaits it, and has both
// analysed.
func (c *Clips) AddSecond(ctx context.Context, r Request, id, name, path string) (ClipView, error) {
	clip, rig, b, err := c.findToChange(ctx, r, id)
	if err != nil {
		return ClipView{}, err
	}
	if clip.Host != c.Files.Host() {
		return ClipView{}, domain.Errorf(domain.Conflict, "The first file is with another host of the service: send the second one there.")
	}
	changed, err := c.Store.ChangeClip(ctx, clip.ID, func(now *Clip) error { return c.second(now, name, path) })
	if err != nil {
		return ClipView{}, err
	}
	if changed == nil {
		return ClipView{}, domain.Errorf(domain.NotFound, "There is no clip %q.", short(id))
	}
	return view(b, rig, changed), nil
}

func (c *Clips) second(now *Clip, name, path string) error {
	if err := now.awaitsSecond(); err != nil {
		return err
	}
	f, err := c.Files.Adopt(now.ID, 1, path)
	if err != nil {
		return err
	}
	if f.Size == 0 || f.Size+now.Files[0].Size > c.MostBytes {
		return domain.Errorf(domain.TooLarge, "The two files are empty or larger than is taken: send shorter parts of both.")
	}
	f.Name = fileName(name)
	now.Files = append(now.Files, f)
	now.queue(c.service.now())
	return nil
}
