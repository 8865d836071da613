package service

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"time"
	"unicode"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/recording"
)

// A NewClip is what a caller says of a recording.
type NewClip struct {
	ClipAsk
	ClientID string // empty: the idempotency key, else none
	Options  AnalysisOptions
	Awaits   bool // a second file comes later: nothing is analysed before, see AddSecond
}

// maxClipFiles is one recording, or two whose sound is compared.
const maxClipFiles = 2

// A ClipUpload takes in the files of a clip. It is for one goroutine.
type ClipUpload struct {
	clips *Clips
	id    domain.ClipID
	rig   domain.RigID
	files []ClipFile
	kept  bool // the clip is stored: the files stay
}

// Upload begins to take in a recording of a rig. It needs the role tech, in the
// rig's crew. The caller must call Close.
func (c *Clips) Upload(ctx context.Context, r Request, rig string) (*ClipUpload, error) {
	return c.upload(ctx, r, rig, domain.ClipID{UUID: c.service.newID()})
}

// Resume is Upload for a recording that came in bit by bit, under an identifier
// that Upload made.
func (c *Clips) Resume(ctx context.Context, r Request, rig, id string) (*ClipUpload, error) {
	parsed, ok := parseID(id)
	if !ok {
		return nil, domain.Errorf(domain.NotFound, "There is no upload %q.", short(id))
	}
	return c.upload(ctx, r, rig, domain.ClipID{UUID: parsed})
}

func (c *Clips) upload(ctx context.Context, r Request, rig string, id domain.ClipID) (*ClipUpload, error) {
	b, err := c.service.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	found, err := r.Caller.rigToChange(b, rig, domain.Tech)
	if err != nil {
		return nil, err
	}
	return &ClipUpload{clips: c, id: id, rig: found.ID}, nil
}

// ID is what the clip will be known by.
func (u *ClipUpload) ID() string { return u.id.String() }

// Rig is the identifier of the rig.
func (u *ClipUpload) Rig() string { return u.rig.String() }

// Add takes in the next file. name is what its sender calls it.
func (u *ClipUpload) Add(name string, r io.Reader) error {
	return u.next(name, func(n int, left int64) (ClipFile, error) { return u.clips.Files.Write(u.id, n, r, left) })
}

// Adopt takes a file of this machine as the next.
func (u *ClipUpload) Adopt(name, path string) error {
	return u.next(name, func(n int, _ int64) (ClipFile, error) { return u.clips.Files.Adopt(u.id, n, path) })
}

func (u *ClipUpload) next(name string, take func(n int, left int64) (ClipFile, error)) error {
	if len(u.files) == maxClipFiles {
		return domain.Errorf(domain.Invalid, "A clip has at most %d files: send the others as clips of their own.", maxClipFiles)
	}
	left := u.clips.MostBytes
	for _, f := range u.files {
		left -= f.Size
	}
	f, err := take(len(u.files), left)
	if err != nil {
		return err
	}
	if f.Size == 0 {
		return domain.Errorf(domain.Invalid, "The file is empty: send the recording.")
	}
	f.Name = fileName(name)
	u.files = append(u.files, f)
	return nil
}

// Close removes what was taken in unless it became a clip.
func (u *ClipUpload) Close() error {
	if u.kept {
		return nil
	}
	return u.clips.Files.Remove(u.id)
}

// fileName cuts what a sender calls a file to what can be shown.
func fileName(name string) string {
	const most = 200
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	runes := []rune(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, name))
	return string(runes[:min(len(runes), most)])
}

// Add stores the recording that was taken in and has it analysed. A repeat
// under the same client identifier gets the first clip, as it is now.
func (c *Clips) Add(ctx context.Context, r Request, rigName string, in NewClip, u *ClipUpload) (ClipView, error) {
	b, err := c.service.bookFor(ctx, r)
	if err != nil {
		return ClipView{}, err
	}
	rig, err := r.Caller.rigToChange(b, rigName, domain.Tech)
	if err != nil {
		return ClipView{}, err
	}
	clip, err := c.draft(b, rig, r, in, u)
	if err != nil {
		return ClipView{}, err
	}
	if earlier, err := c.earlier(ctx, clip); earlier != nil || err != nil {
		return view(b, rig, earlier), err
	}
	if err := c.check(b, rig, r, clip); err != nil {
		return ClipView{}, err
	}
	if clip.Ask.TakenAt == "" {
		clip.Ask.TakenAt = clip.CreatedAt.Format(time.RFC3339Nano)
	}
	if clip.State == ClipQueued {
		clip.EstimateS = c.estimate(ctx, clip)
	}
	// From here on the files stay: should the answer of the database be lost,
	// the clip may be there all the same.
	u.kept = true
	if err := c.Store.AddClip(ctx, clip); err != nil {
		if earlier, repeat := c.earlier(ctx, clip); earlier != nil || repeat != nil {
			u.kept = false // somebody sent the same at the same time
			return view(b, rig, earlier), repeat
		}
		return ClipView{}, err
	}
	return view(b, rig, clip), nil
}

// estimateTime is how long who sends a recording waits for the estimate.
const estimateTime = 3 * time.Second

// estimate returns about how many seconds the analysis of a clip will take, nil
// if that can not be told soon: who analyses it tells better.
func (c *Clips) estimate(ctx context.Context, clip *Clip) *float64 {
	ctx, cancel := context.WithTimeout(ctx, estimateTime)
	defer cancel()
	took, err := c.Analyst.Estimate(ctx, c.request(clip))
	if err != nil {
		return nil
	}
	return seconds(took)
}

func (c *Clips) request(clip *Clip) AnalysisRequest {
	return AnalysisRequest{Files: c.Files.Paths(clip.ID, len(clip.Files)), AnalysisOptions: clip.Options}
}

func (c *Clips) draft(b *book.Book, rig *book.Rig, r Request, in NewClip, u *ClipUpload) (*Clip, error) {
	now := c.service.now()
	clip := &Clip{
		ID: u.id, Rig: rig.ID, By: r.Caller.Key, Host: c.Files.Host(), CreatedAt: now, KeepUntil: now.Add(c.Keep), Kept: true,
		Ask: in.ClipAsk, Files: u.files, Row: 1, State: ClipUploaded, Options: in.Options,
	}
	if in.ClientID == "" {
		in.ClientID = OnceID(r)
	}
	clip.ClientID = c.service.newID()
	if in.ClientID != "" {
		id, ok := parseID(in.ClientID)
		if !ok {
			return nil, oneFault("client_id", fmt.Sprintf("%q is not a UUID", short(in.ClientID)), "a UUID that you made for this recording")
		}
		clip.ClientID = id
	}
	clip.Fingerprint = clipFingerprint(clip)
	if clip.Ask.Method == "" {
		clip.Ask.Method = string(domain.Clip)
	}
	clip.Options.Method = recording.Method(clip.Ask.Method)
	if clip.analysed() && !in.Awaits {
		clip.State, clip.Attempt, clip.QueuedAt = ClipQueued, 1, &now
	}
	return clip, nil
}

// analysed reports whether the clip has something to analyse.
func (c *Clip) analysed() bool {
	return c.Options.Method == recording.ByClip || c.Options.Method == recording.ByTracks
}

// clipFingerprint covers what was sent, not what was made of it.
func clipFingerprint(c *Clip) domain.Digest {
	text, err := json.Marshal([]any{c.Rig, c.Ask, c.Options, c.Files})
	if err != nil {
		panic(fmt.Sprintf("service: a clip of plain fields can not be written as JSON: %v", err))
	}
	return sha256.Sum256(text)
}

func (c *Clips) earlier(ctx context.Context, clip *Clip) (*Clip, error) {
	earlier, err := c.Store.ClipByClientID(ctx, clip.ClientID)
	if err != nil || earlier == nil {
		return nil, err
	}
	if earlier.Fingerprint != clip.Fingerprint || earlier.State == ClipDeleted {
		return nil, oneFault("client_id", "another recording has it", "a new UUID for each recording, or the same recording again")
	}
	return earlier, nil
}

func oneFault(pointer, detail, send string) error {
	var bad domain.Fields
	bad.Add(pointer, detail, send)
	return bad.Err("The clip is not valid.")
}

// check gathers what is wrong with a new clip, while whoever sends it is there
// to mend it. Its pair may be named later.
func (c *Clips) check(b *book.Book, rig *book.Rig, r Request, clip *Clip) error {
	var bad domain.Fields
	method := domain.Method(clip.Ask.Method)
	bad.Check(method.Valid(), "method", fmt.Sprintf("%q is not a method", short(clip.Ask.Method)), "clip, tracks, eye or clap")
	bad.Check(len(clip.Files) > 0, "file", "there is none", "the recording as file")
	bad.Check(len(clip.Files) < 2 || method == domain.Tracks, "file", "the method looks at one file", "one file, or the method tracks")
	checkOptions(&bad, &clip.Options)
	if len(bad) == 0 {
		d := c.service.newDrafting(b, r.Caller, b.Version()+1)
		in := clip.Ask.measurement()
		in.Rig, in.Readings = rig.ID.String(), []NewReading{{OffsetMS: new(float64)}}
		if !clip.Ask.namesPair() {
			d.takenAt(&bad, in.TakenAt)
			checkText(&bad, "/note", in.Note, optional)
		} else {
			var m domain.Measurement
			d.resolve(&bad, rig, &m, in)
		}
		for i := range bad {
			bad[i].Pointer = strings.TrimPrefix(bad[i].Pointer, "/")
		}
	}
	return bad.Err("The clip is not valid.")
}

func (a *ClipAsk) namesPair() bool {
	return a.Picture != "" || a.Sound != "" || a.First != "" || a.Second != ""
}

// measurement returns the measurement that the ask describes, without its readings.
func (a *ClipAsk) measurement() NewMeasurement {
	return NewMeasurement{
		Picture: a.Picture, Sound: a.Sound, First: a.First, Second: a.Second, ReadAt: a.ReadAt, Method: a.Method,
		CardSource: a.CardSource, Settings: slices.Clone(a.Settings), PowerUp: a.PowerUp, DistanceM: a.DistanceM, AirC: a.AirC,
		TakenAt: a.TakenAt, Revision: a.Revision, Note: a.Note,
	}
}

// maxSpanS is a day: no recording of a rig is longer.
const maxSpanS = 24 * 3600

func checkOptions(bad *domain.Fields, o *AnalysisOptions) {
	const most = 32
	bad.Check(len(o.Segments) <= most, "segments", fmt.Sprintf("there are %d", len(o.Segments)), fmt.Sprintf("at most %d", most))
	for i, s := range o.Segments {
		ok := s.FromS >= 0 && s.ToS > s.FromS && s.ToS <= maxSpanS
		bad.Check(ok, fmt.Sprintf("segments/%d", i), "it is no stretch of a recording", "from_s and to_s in seconds, such as 12.5-30")
	}
	for i, t := range []*recording.Track{o.First, o.Sound} {
		name := []string{"first_track", "sound_track"}[i]
		ok := t == nil || t.File >= 0 && t.File < maxClipFiles && t.Stream >= 0 && t.Stream < most && t.Channel >= 0 && t.Channel < most
		bad.Check(ok, name, "it is no track", "file, stream and channel, each from 0")
	}
}
