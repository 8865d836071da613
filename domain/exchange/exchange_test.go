package exchange_test

import (
	"bytes"
	"testing"

	"delaybook/domain"
	"delaybook/domain/exchange"

	"github.com/shopspring/decimal"
)

func TestAReadingOfNoFramesIsReadBack(t *testing.T) {
	t.Parallel()
	none := decimal.Zero
	reading := domain.Reading{Frames: &none, Heard: domain.InSync}
	facts := &domain.Facts{Measurements: []domain.Measurement{{Readings: []domain.Reading{reading}}}}
	var text bytes.Buffer
	if err := exchange.Write(&text, exchange.Header{}, facts); err != nil {
		t.Fatal(err)
	}
	_, back, err := exchange.Read(&text)
	if err != nil {
		t.Fatal(err)
	}
	if got := back.Measurements[0].Readings[0]; got.Frames == nil || !got.Frames.IsZero() || got.Heard != domain.InSync {
		t.Errorf("0 frames in sync are read back as %+v", got)
	}
}
