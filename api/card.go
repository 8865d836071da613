package api

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"

	"delaybook/api/pages"
	"delaybook/domain/card"
	"delaybook/domain/timebase"

	"github.com/labstack/echo/v4"
)

// A CardShelf keeps the media files of the card.
type CardShelf interface {
	// Open opens a file for reading, made first if it is not there. Making goes on when ctx ends; then the error is
	// that of ctx. It is ErrMaking if making takes longer than a request can wait.
	Open(ctx context.Context, rate timebase.Rate, c card.Container) (*os.File, error)
	// Size returns how many bytes a file has; ok is false if it is not made yet.
	Size(rate timebase.Rate, c card.Container) (bytes int64, ok bool)
}

// ErrMaking says that a file is being made and that it should be asked for again.
var ErrMaking = errors.New("the file is being made")

// A Card is the flash-and-beep card: what it is, its files, and how to use it.
type Card struct {
	Version  int            `json:"version" example:"1"` // of the sequence and the files
	Sequence CardSequence   `json:"sequence"`
	Page     string         `json:"page" example:"/card"` // plays it in a browser
	Files    []CardFile     `json:"files"`
	Choices  []CardChoice   `json:"choices"` // which file to play for a camera on a screen
	Phases   []CardPhase    `json:"phases"`  // of every file with every camera
	Cautions []card.Caution `json:"cautions"`
	Advice   []string       `json:"advice"`
} //	@name	Card

// A CardSequence says when the events come and what one is like.
type CardSequence struct {
	IntervalsMS  []int   `json:"intervals_ms" example:"816,1188,923"` // from the start of one event to that of the next; they repeat for ever
	CycleMS      int     `json:"cycle_ms" example:"12371"`
	FlashMS      int     `json:"flash_ms" example:"160"` // how long the area is white
	AreaShare    float64 `json:"area_share" example:"0.35"`
	ToneHz       int     `json:"tone_hz" example:"2000"`
	BeepMS       int     `json:"beep_ms" example:"60"`
	AttackMS     int     `json:"attack_ms" example:"1"` // linear
	DecayMS      int     `json:"decay_ms" example:"4"`  // linear, at the end of the beep
	LevelDBFS    float64 `json:"level_dbfs" example:"-12"`
	MostInSecond int     `json:"most_in_second" example:"2"` // flashes in any second
} //	@name	CardSequence

// A CardFile is a media file of the card.
type CardFile struct {
	Rate      timebase.Rate  `json:"rate" swaggertype:"string" example:"30000/1001"`
	Label     string         `json:"label" example:"29.97"`
	Container card.Container `json:"container" enums:"mov,mp4"`
	MediaType string         `json:"media_type" example:"video/quicktime"`
	Picture   string         `json:"picture" example:"H.264"`
	Sound     string         `json:"sound" example:"PCM"`
	DurationS float64        `json:"duration_s" example:"61.8618"`
	Bytes     *int64         `json:"bytes" extensions:"x-nullable" example:"12351822"` // null: made when it is asked for first
	Media     string         `json:"media" example:"/v1/card/media?container=mov&rate=29.97"`
	Truth     string         `json:"truth" example:"/v1/card/truth?rate=29.97"` // where each event is
} //	@name	CardFile

// A CardPhase says how well the flashes of a file sample the frame of a camera. The gaps are for clocks that run
// alike, the worst case.
type CardPhase struct {
	File     string   `json:"file" example:"60"`
	Camera   string   `json:"camera" example:"29.97"`
	CycleGap float64  `json:"cycle_gap" example:"0.393"` // largest part of the camera's frame in which no flash starts: any 12 s
	FilmGap  float64  `json:"film_gap" example:"0.166"`  // any 25 s
	FileGap  float64  `json:"file_gap" example:"0.055"`  // the whole file
	Phases   int      `json:"phases" example:"58"`       // different ones in the whole file
	Use      card.Use `json:"use" enums:"sweeps,slow,locked"`
} //	@name	CardPhase

// A CardChoice is the file to play for a camera on a screen.
type CardChoice struct {
	Camera   string   `json:"camera" example:"25"`    // frames a second
	ScreenHz string   `json:"screen_hz" example:"60"` // refreshes a second
	File     string   `json:"file" example:"60"`
	Use      card.Use `json:"use" enums:"sweeps,slow,locked"`
	Why      string   `json:"why" example:"The flashes of the 60 file walk through the frames of a 25 camera: film half a minute."`
} //	@name	CardChoice

// showCard describes the card. It needs no key.
//
//	@Summary	Show the flash-and-beep card
//	@Tags		card
//	@Produce	json
//	@Produce	text/plain
//	@Param		format	query		string	false	"json or text, instead of Accept"	Enums(json, text)
//	@Success	200		{object}	Card
//	@Success	304		"unchanged"
//	@Failure	406,422	{object}	Problem
//	@Router		/v1/card [get]
func (s *server) showCard(c echo.Context) error {
	media, err := negotiate(c, echo.MIMEApplicationJSON, textPlain)
	if err != nil {
		return err
	}
	if media == textPlain {
		return open(c, textPlain+"; charset=utf-8", []byte(cardText()))
	}
	body, err := encodeJSON(s.card())
	if err != nil {
		return err
	}
	return open(c, echo.MIMEApplicationJSON, body)
}

func (s *server) card() Card {
	tables := cardTables()
	return Card{
		Version: card.Version, Page: pages.CardPath, Files: s.cardFiles(), Choices: tables.choices, Phases: tables.phases,
		Cautions: card.Cautions(), Advice: card.Advice(),
		Sequence: CardSequence{
			IntervalsMS: card.Intervals(), CycleMS: card.CycleMS, FlashMS: card.FlashMS, AreaShare: card.AreaShare, ToneHz: card.ToneHz,
			BeepMS: card.BeepMS, AttackMS: card.AttackMS, DecayMS: card.DecayMS, LevelDBFS: card.LevelDBFS,
			MostInSecond: card.MostWithin(card.Starts(2*card.EventsPerCycle), 1000),
		},
	}
}

func (s *server) cardFiles() []CardFile {
	var files []CardFile
	for _, rate := range card.Rates() {
		f, err := card.NewFile(rate)
		if err != nil {
			continue // a test of package card makes each
		}
		for _, c := range card.Containers() {
			file := CardFile{
				Rate: rate, Label: rate.Label(), Container: c, MediaType: c.Media(), Picture: "H.264", Sound: c.Sound(),
				DurationS: rate.FramesMS(f.Frames) / 1000,
				Media:     "/v1/card/media?container=" + string(c) + "&rate=" + rate.Label(),
				Truth:     "/v1/card/truth?rate=" + rate.Label(),
			}
			if s.shelf != nil {
				if bytes, ok := s.shelf.Size(rate, c); ok {
					file.Bytes = &bytes
				}
			}
			files = append(files, file)
		}
	}
	return files
}

type cardAnswers struct {
	phases  []CardPhase
	choices []CardChoice
}

// cardTables never change, and take a moment to compute.
var cardTables = sync.OnceValue(func() (t cardAnswers) {
	for _, camera := range card.Rates() {
		for _, rate := range card.Rates() {
			if f, err := card.NewFile(rate); err == nil {
				p := card.PhaseOf(f, camera)
				t.phases = append(t.phases, CardPhase{
					File: rate.Label(), Camera: camera.Label(), CycleGap: p.CycleGap, FilmGap: p.FilmGap, FileGap: p.FileGap, Phases: p.Phases, Use: p.Use,
				})
			}
		}
		for _, screen := range card.Screens() {
			if x, ok := card.Choose(camera, screen); ok {
				t.choices = append(t.choices, CardChoice{
					Camera: camera.Label(), ScreenHz: screen.Label(), File: x.Phase.File.Label(), Use: x.Phase.Use, Why: x.Why,
				})
			}
		}
	}
	return t
})

// cardText is the card for people who read it in a terminal.
func cardText() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Flash-and-beep card, version %d\n\nBefore the first flash\n", card.Version)
	for _, x := range card.Cautions() {
		fmt.Fprintf(&b, "- %s (%s)\n", x.Text, x.Source)
	}
	b.WriteString("\nHow to use it\n")
	for _, text := range card.Advice() {
		fmt.Fprintf(&b, "- %s\n", text)
	}
	b.WriteString("\nWhich file to play\ncamera  screen Hz  file    flashes\n")
	for _, x := range cardTables().choices {
		fmt.Fprintf(&b, "%-7s %-10s %-7s %s\n", x.Camera, x.ScreenHz, x.File, x.Use)
	}
	b.WriteString("\nIntervals, ms\n")
	for i, interval := range card.Intervals() {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(strconv.Itoa(interval))
	}
	return b.String() + "\n"
}

// open answers what everybody may see with a tag of its own contents.
func open(c echo.Context, media string, body []byte) error {
	tag := contentTag(body)
	h := c.Response().Header()
	h.Set("ETag", tag)
	h.Set(echo.HeaderVary, "Accept")
	h.Set(echo.HeaderCacheControl, "no-cache")
	if fresh(c, tag) {
		return c.NoContent(http.StatusNotModified)
	}
	return c.Blob(http.StatusOK, media, body)
}
