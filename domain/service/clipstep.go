package service

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"delaybook/domain"
)

// Frames are made in windows of a second, which are decoded together: who looks
// at one frame looks at those beside it next.
const (
	windowTicks  = TicksPerS
	mostInWindow = 300              // frames
	mostAtOnce   = 120              // of one call of a Viewer
	furthest     = 4                // windows without a frame that are passed over: what a file says of its length may be anything
	mostMade     = 48               // folders beside a clip: three quarters of a minute, some 100 MB at most
	stillTime    = 50 * time.Second // of one call of a Viewer, while somebody waits
	widthStep    = 160
	widestStill  = 1280

	// StillWidth is the width of frames that nobody chose one for, pixels.
	StillWidth = 640
)

// StillTimes returns the time stamps of at most n frames of a clip, in order,
// from the first one at or after from, 1/90000 s. Frames whose window was not
// looked at yet are made. Fewer mean that the recording ends.
func (c *Clips) StillTimes(ctx context.Context, r Request, id string, from int64, n, width int) ([]int64, error) {
	clip, err := c.findToSee(ctx, r, id)
	if err != nil {
		return nil, err
	}
	var bad domain.Fields
	bad.Check(from >= -windowTicks && from <= maxSpanS*TicksPerS, "from_s", "it is no time of a recording", "seconds from 0")
	bad.Check(n >= 1 && n <= mostAtOnce, "count", fmt.Sprintf("%d is not a number of frames that can be had", n), fmt.Sprintf("1 to %d", mostAtOnce))
	checkWidth(&bad, width)
	if err := bad.Err("The frames are not asked for well."); err != nil {
		return nil, err
	}
	heard, err := c.hearing(ctx, clip)
	if err != nil {
		return nil, err
	}
	return c.times(ctx, clip, heard, from, lastTick(heard), n, width)
}

// lastTick is after the last frame: what a file says of its length is not exact.
func lastTick(heard Hearing) int64 { return int64(heard.DurationS*TicksPerS) + windowTicks }

// times returns the time stamps of at most n frames from one instant to another, both included.
func (c *Clips) times(ctx context.Context, clip *Clip, heard Hearing, from, to int64, n, width int) ([]int64, error) {
	var out []int64
	empty := int64(0)
	for w := floor(from, windowTicks); len(out) < n && w*windowTicks <= to && empty < furthest; w++ {
		times, err := c.window(ctx, clip, heard, w, width)
		if err != nil {
			return nil, err
		}
		if empty++; len(times) > 0 {
			empty = 0
		}
		for _, t := range times {
			if t >= from && t <= to && len(out) < n {
				out = append(out, t)
			}
		}
	}
	return out, nil
}

// StillsAround returns the time stamps of the frame that is shown at an instant,
// 1/90000 s, of reach frames before it and of reach after it, as far as there
// are any, and which of them it is. The instant may lie outside: then it is the
// nearest. A recording without a frame near it is a Conflict.
func (c *Clips) StillsAround(ctx context.Context, r Request, id string, at int64, reach, width int) (times []int64, shown int, err error) {
	clip, err := c.findToSee(ctx, r, id)
	if err != nil {
		return nil, 0, err
	}
	heard, err := c.hearing(ctx, clip)
	if err != nil {
		return nil, 0, err
	}
	at = min(max(at, 0), lastTick(heard))
	for w := floor(at, windowTicks); len(times) <= reach && w >= max(floor(at, windowTicks)-furthest, -1); w-- {
		before, err := c.times(ctx, clip, heard, w*windowTicks, min((w+1)*windowTicks-1, at), mostInWindow, width)
		if err != nil {
			return nil, 0, err
		}
		times = append(before, times...)
	}
	times = times[max(0, len(times)-reach-1):]
	shown = max(len(times)-1, 0)
	more := reach
	if len(times) == 0 {
		more++
	}
	after, err := c.times(ctx, clip, heard, at+1, min(lastTick(heard), at+furthest*windowTicks), more, width)
	if err != nil {
		return nil, 0, err
	}
	if times = append(times, after...); len(times) == 0 {
		return nil, 0, domain.Errorf(domain.Conflict, "The recording has no picture there: go to another time.")
	}
	return times, shown, nil
}

// Still returns one frame of a clip as a JPEG, by its time stamp.
func (c *Clips) Still(ctx context.Context, r Request, id string, ticks int64, width int) ([]byte, error) {
	clip, err := c.findToSee(ctx, r, id)
	if err != nil {
		return nil, err
	}
	var bad domain.Fields
	checkWidth(&bad, width)
	if err := bad.Err("The frame is not asked for well."); err != nil {
		return nil, err
	}
	missing := domain.Errorf(domain.NotFound, "There is no frame with the time stamp %d: ask for the frames first.", ticks)
	if ticks < -windowTicks {
		return nil, missing
	}
	heard, err := c.hearing(ctx, clip)
	if err != nil {
		return nil, err
	}
	if ticks > lastTick(heard) {
		return nil, missing
	}
	w := floor(ticks, windowTicks)
	if _, err := c.window(ctx, clip, heard, w, width); err != nil {
		return nil, err
	}
	data, err := c.Files.MadeFile(clip.ID, windowFolder(w, width), stillName(ticks))
	if err == nil && data == nil {
		err = missing
	}
	return data, err
}

// Hearing returns what is to be heard in a clip.
func (c *Clips) Hearing(ctx context.Context, r Request, id string) (Hearing, error) {
	clip, err := c.findToSee(ctx, r, id)
	if err != nil {
		return Hearing{}, err
	}
	return c.hearing(ctx, clip)
}

// findToSee finds a clip whose recording can be looked at here.
func (c *Clips) findToSee(ctx context.Context, r Request, id string) (*Clip, error) {
	clip, _, _, err := c.find(ctx, r, id)
	if err != nil {
		return nil, err
	}
	if !clip.Kept || !clip.KeepUntil.After(c.service.now()) {
		return nil, domain.Errorf(domain.Gone, "The recording was kept until %s and is deleted: send it again to look at it. What was found in it stays.", clip.KeepUntil.Format(time.DateOnly))
	}
	if clip.Host != c.Files.Host() || c.Viewer == nil {
		return nil, domain.Errorf(domain.Conflict, "The recording is on another machine of the service, which alone can show it.")
	}
	return clip, nil
}

func checkWidth(bad *domain.Fields, width int) {
	ok := width >= widthStep && width <= widestStill && width%widthStep == 0
	bad.Check(ok, "width", fmt.Sprintf("%d is not a width that is made", width), fmt.Sprintf("a multiple of %d pixels up to %d", widthStep, widestStill))
}

func floor(a, b int64) int64 { return int64(math.Floor(float64(a) / float64(b))) }

func windowFolder(w int64, width int) string { return fmt.Sprintf("stills-%d-%d", width, w) }

const stillEnding = ".jpg"

func stillName(ticks int64) string { return strconv.FormatInt(ticks, 10) + stillEnding }

// window returns the time stamps of the frames of a window, making them if need be.
func (c *Clips) window(ctx context.Context, clip *Clip, heard Hearing, w int64, width int) ([]int64, error) {
	folder := windowFolder(w, width)
	if times, ok, err := c.keptTimes(clip.ID, folder); ok || err != nil {
		return times, err
	}
	free, err := c.lookAlone(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	if times, ok, err := c.keptTimes(clip.ID, folder); ok || err != nil {
		return times, err // somebody else waited for the same
	}
	ctx, stop := context.WithTimeoutCause(ctx, min(stillTime, c.Longest), errSlow)
	defer stop()
	files := map[string][]byte{}
	path := c.Files.Paths(clip.ID, 1)[0]
	from, end := w*windowTicks, (w+1)*windowTicks
	n := min(int(math.Ceil(max(heard.FPS, 24)))+2, mostAtOnce)
	for len(files) < mostInWindow {
		stills, err := c.Viewer.Stills(ctx, path, float64(from)/TicksPerS, n, width)
		if err != nil {
			return nil, orSlow(ctx, err)
		}
		for _, s := range stills {
			if s.Ticks >= w*windowTicks && s.Ticks < end {
				files[stillName(s.Ticks)] = s.JPEG
			}
		}
		if len(stills) < n || stills[n-1].Ticks >= end {
			break
		}
		from = stills[n-1].Ticks + 1
	}
	if err := c.Files.KeepMade(clip.ID, folder, files, mostMade); err != nil {
		return nil, err
	}
	times, _, err := c.keptTimes(clip.ID, folder)
	return times, err
}

var errSlow = domain.Errorf(domain.Conflict, "The recording takes longer to open than is allowed: send a shorter part of it, or the same at a smaller size.")

// orSlow returns errSlow if that is why a call of a Viewer failed.
func orSlow(ctx context.Context, err error) error {
	if errors.Is(context.Cause(ctx), errSlow) {
		return errSlow
	}
	return err
}

// lookAlone waits until nobody else decodes frames: they are asked for by
// people, who look at one thing at a time.
func (c *Clips) lookAlone(ctx context.Context) (free func(), err error) {
	select {
	case c.looking <- struct{}{}:
		return func() { <-c.looking }, nil
	case <-ctx.Done():
		return nil, context.Cause(ctx)
	}
}

func (c *Clips) keptTimes(id domain.ClipID, folder string) (times []int64, ok bool, err error) {
	names, ok, err := c.Files.Made(id, folder)
	if !ok || err != nil {
		return nil, false, err
	}
	for _, name := range names {
		if t, err := strconv.ParseInt(strings.TrimSuffix(name, stillEnding), 10, 64); err == nil && filepath.Ext(name) == stillEnding {
			times = append(times, t)
		}
	}
	slices.Sort(times)
	return times, true, nil
}

// hearingFolder and hearingName are where what was heard in a clip is kept.
const (
	hearingFolder = "hearing"
	hearingName   = "1.json"
)

func (c *Clips) hearing(ctx context.Context, clip *Clip) (Hearing, error) {
	var heard Hearing
	kept := func() bool {
		data, err := c.Files.MadeFile(clip.ID, hearingFolder, hearingName)
		return err == nil && data != nil && json.Unmarshal(data, &heard) == nil
	}
	if kept() {
		return heard, nil
	}
	free, err := c.lookAlone(ctx)
	if err != nil {
		return heard, err
	}
	defer free()
	if kept() {
		return heard, nil
	}
	ctx, stop := context.WithTimeoutCause(ctx, min(stillTime, c.Longest), errSlow)
	defer stop()
	if heard, err = c.Viewer.Listen(ctx, c.Files.Paths(clip.ID, 1)[0]); err != nil {
		return Hearing{}, orSlow(ctx, err)
	}
	data, err := json.Marshal(heard)
	if err != nil {
		return Hearing{}, fmt.Errorf("keep what was heard: %w", err)
	}
	return heard, c.Files.KeepMade(clip.ID, hearingFolder, map[string][]byte{hearingName: data}, mostMade)
}
