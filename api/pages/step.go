package pages

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"delaybook/domain"
	"delaybook/domain/recording"
	"delaybook/domain/service"
)

// reach is how many frames the widest move of the page passes.
const reach = 5

// A stepPage shows one frame of a recording, where the sound falls from there,
// and what was read so far. What was read is in its address, so that it needs
// no script, goes back as a browser does, and loses nothing when it is loaded anew.
type stepPage struct {
	service.ClipView
	stepPlace
	Name     string
	RigPath  string
	RigName  string
	Sounds   []stepSound
	At       string // of the frame, seconds
	Image    string
	Falls    string // where the sound falls, in words
	Moves    []stepMove
	Ahead    []string // images that are likely to be asked for next
	On       string   // address when the picture meets on this frame
	After    string   // between it and the next
	Other    string   // address to watch the other thing: the flash in place of hands
	Readings []stepReading
	Pairs    []pairChoice
	Pair     string
	Card     string
	MayStore bool
	Problems []problem
}

// A stepSound is a sudden sound that one can look at.
type stepSound struct {
	At, Path string
	Shown    bool
	Words    string // what was read of it; empty: nothing yet
}

// A stepMove is a button that leads to another frame; without a path there is none.
type stepMove struct{ Key, Words, Hidden, Path string }

// A stepReading is what was read of one sound.
type stepReading struct {
	Words, At  string
	Token      string
	Again, Out string // addresses: to look at it again, and to take it back
}

func showStep(v *visit) error {
	page, err := v.stepPage()
	if err != nil {
		return err
	}
	v.Response().Header().Set("Cache-Control", "no-store") // a phone keeps pages, and this one has thousands
	return v.show(http.StatusOK, "step", page)
}

func (v *visit) stepPage() (*stepPage, error) {
	ctx, r, id := v.Request().Context(), v.request(), v.Param("clip")
	clip, err := v.pages.clips.Clip(ctx, r, id)
	if err != nil {
		return nil, err
	}
	rig, err := v.pages.use.Rig(ctx, r, clip.Rig.String())
	if err != nil {
		return nil, err
	}
	heard, err := v.pages.clips.Hearing(ctx, r, id)
	if err != nil {
		return nil, err
	}
	page := &stepPage{ClipView: clip, Name: clipName(clip), RigPath: rigPath(rig), RigName: rig.Rig.Name, Pairs: pairChoices(&rig.Shown.Layout)}
	page.stepPlace = v.stepPlace(clip, heard)
	page.MayStore = v.mayWrite(rig, domain.Tech) && !clip.State.Running() && clip.State != service.ClipAccepted
	page.Pair, page.Card = v.form("pair"), v.form("card_source")
	if page.Pair == "" && clip.Ask.Picture != "" {
		page.Pair = clip.Ask.Picture + " " + clip.Ask.Sound + " " + clip.Ask.ReadAt
	}
	if page.Card == "" {
		page.Card = clip.Ask.CardSource
	}
	if err := page.addReadings(v, heard); err != nil {
		return nil, err
	}
	return page, page.addFrame(v, heard)
}

// addFrame shows the frame, where the sound falls, and the ways from there.
func (p *stepPage) addFrame(v *visit, heard service.Hearing) error {
	times, shown, err := v.pages.clips.StillsAround(v.Request().Context(), v.request(), p.ID.String(), p.Ticks, reach, service.StillWidth)
	if err != nil {
		return err
	}
	p.Ticks = times[shown]
	frame := stepFrameOf(times, shown)
	p.At, p.Image = thousandths(frame.atS), p.image(p.Ticks)
	if len(heard.Onsets) > 0 {
		p.Falls = fallsWords(frame.halves(heard.Onsets[p.Sound].AtS))
		p.On, p.After = p.reading(seenOn), p.reading(seenAfter)
	}
	other := p.stepPlace
	other.Hands = !other.Hands
	p.Other = other.path(p.ID.String())
	for _, m := range []struct {
		key, words, hidden string
		by                 int
	}{
		{"back-5", "5 back", " frames", -reach},
		{"back", "1 back", " frame", -1},
		{"on", "1 on", " frame", 1},
		{"on-5", "5 on", " frames", reach},
	} {
		move := stepMove{Key: m.key, Words: m.words, Hidden: m.hidden}
		if to := min(max(shown+m.by, 0), len(times)-1); to != shown {
			there := p.stepPlace
			there.Ticks = times[to]
			move.Path = there.path(p.ID.String())
			p.Ahead = append(p.Ahead, p.image(times[to]))
		}
		p.Moves = append(p.Moves, move)
	}
	return nil
}

func (p *stepPage) image(ticks int64) string {
	return fmt.Sprintf("/v1/clips/%s/frames/%d.jpg?width=%d", p.ID, ticks, service.StillWidth)
}

// reading is the address after the sound that is looked at was read here.
func (p *stepPage) reading(seen string) string {
	there := p.stepPlace
	there.Reads = append(there.without(p.Sound), stepRead{p.Sound, p.Ticks, seen})
	return there.path(p.ID.String())
}

// addReadings says what was read so far, of each sound at most once.
func (p *stepPage) addReadings(v *visit, heard service.Hearing) error {
	words := map[int]string{}
	for _, read := range p.Reads {
		counted, err := v.counted(p.ID.String(), read, heard)
		if err != nil {
			return err
		}
		words[read.Sound] = counted.words
		again, out := p.stepPlace, p.stepPlace
		again.Sound, again.Ticks = read.Sound, read.Ticks
		out.Reads = p.without(read.Sound)
		p.Readings = append(p.Readings, stepReading{
			Words: sentence(counted.words), At: thousandths(heard.Onsets[read.Sound].AtS), Token: read.token(),
			Again: again.path(p.ID.String()), Out: out.path(p.ID.String()),
		})
	}
	for i, o := range heard.Onsets {
		there := p.stepPlace
		there.Sound, there.Ticks = i, ticksOf(o.AtS)
		for _, read := range p.Reads {
			if read.Sound == i {
				there.Ticks = read.Ticks
			}
		}
		p.Sounds = append(p.Sounds, stepSound{At: thousandths(o.AtS), Path: there.path(p.ID.String()), Shown: i == p.Sound, Words: words[i]})
	}
	return nil
}

// step puts what was read into the book.
func step(v *visit) error {
	page, err := v.stepPage()
	if err != nil {
		return err
	}
	take, problems, err := page.take(v)
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		accepted, err := v.pages.clips.AcceptClip(v.Request().Context(), v.request(), page.ID.String(), v.copyOf(), service.Acceptance{Takes: []service.AcceptedTake{take}})
		if err == nil {
			return v.to("/measurements/" + accepted.Taken[0].Measurement.ID.String())
		}
		e, ok := errors.AsType[*domain.Error](err)
		if !ok || e.Code != domain.Invalid {
			return err
		}
		for _, f := range e.Fields {
			problems = append(problems, problem{"store", sentence(f.Detail) + ". Give " + f.Send + "."})
		}
	}
	page.Problems = problems
	return v.show(http.StatusUnprocessableEntity, "step", page)
}

// take is the measurement of what was read.
func (p *stepPage) take(v *visit) (service.AcceptedTake, []problem, error) {
	take := service.AcceptedTake{Method: string(domain.Clap), Eye: string(domain.BothSides)}
	if !p.Hands {
		take.Method, take.CardSource = string(domain.ByEye), strings.TrimSpace(p.Card)
	}
	var problems []problem
	pair := strings.Fields(p.Pair)
	if i := slices.IndexFunc(p.Pairs, func(c pairChoice) bool { return c.Value == p.Pair }); i >= 0 && len(pair) == 3 {
		take.Picture, take.Sound, take.ReadAt = pair[0], pair[1], pair[2]
	} else if p.Ask.Picture == "" {
		problems = append(problems, problem{"pair", "Choose what the recording compares."})
	}
	if len(p.Reads) == 0 {
		problems = append(problems, problem{"step", "Say of a sound on which frame the hands meet."})
	}
	id := p.ID.String()
	heard, err := v.pages.clips.Hearing(v.Request().Context(), v.request(), id)
	if err != nil {
		return take, nil, err
	}
	for _, read := range p.Reads {
		counted, err := v.counted(id, read, heard)
		if err != nil {
			return take, nil, err
		}
		take.Readings = append(take.Readings, counted.reading)
		if counted.rate != "" {
			take.FrameRate = counted.rate
		} else {
			take.Eye = string(domain.OneSide) // the sound was placed exactly, the picture to a frame
		}
	}
	return take, problems, nil
}

// path is the address of the page at a place.
func (s stepPlace) path(clip string) string {
	q := url.Values{"sound": {strconv.Itoa(s.Sound)}, "at": {strconv.FormatInt(s.Ticks, 10)}}
	for _, read := range s.Reads {
		q.Add("read", read.token())
	}
	q.Set("watch", map[bool]string{true: watchHands, false: watchFlash}[s.Hands])
	return "/clips/" + clip + "/step?" + q.Encode()
}

// watched reports whether a clip was filmed for its flashes.
func watched(c *service.Clip) string {
	if c.Options.Method == recording.ByClip || c.Ask.Method == string(domain.ByEye) {
		return watchFlash
	}
	return watchHands
}

// fallsWords says where the sound falls as seen from a frame, by halves of frames
// from its start.
func fallsWords(halves int) string {
	switch halves {
	case 0:
		return "The sound falls between this frame and the one before."
	case 1:
		return "The sound falls here."
	case 2:
		return "The sound falls between this frame and the next."
	}
	if halves > 2 {
		return "The sound falls " + frameWords(float64(halves-1)/2) + " after this one."
	}
	return "The sound falls " + frameWords(float64(1-halves)/2) + " before this one."
}

func frameWords(n float64) string {
	if n == 1 {
		return "1 frame"
	}
	return strconv.FormatFloat(n, 'f', -1, 64) + " frames"
}

func thousandths(s float64) string { return strconv.FormatFloat(s, 'f', 3, 64) }
