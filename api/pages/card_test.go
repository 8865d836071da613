package pages_test

import (
	"strings"
	"testing"

	"delaybook/api/pages/browsertest"

	"github.com/chromedp/chromedp"
)

// TestCautionsComeBeforeTheCard: nobody reaches a file or the start before them,
// and the files come first, with the reason why.
func TestCautionsComeBeforeTheCard(t *testing.T) {
	t.Parallel()
	phone := browsertest.NewPhone(t, newCompany(t).Site)
	phone.Open("/card?camera=25&screen=60#files")
	shown, last := phone.Page(), 0
	for _, text := range []string{
		"photosensitive epilepsy", "Success Criterion 2.3.1", "85 dBA", "98-126", "howls", // with their sources
		"Play a file, if you can", "locked to each other", "The 60 file.", "MOV, plain sound",
		"Or play it here", "can not know", "Bluetooth", "Start flashing", "So that the number", "clap instead", "this card source",
	} {
		at := strings.Index(shown[last:], text)
		if at < 0 {
			t.Fatalf("%q is missing or too early in\n%s", text, shown)
		}
		last += at
	}
	if got := browsertest.Run(phone, chromedp.Evaluate[string](`document.querySelector(".links a").getAttribute("href")`)); got != "/v1/card/media?container=mov&rate=60" {
		t.Errorf("the file is at %s", got)
	}
}

func TestWhichFileOfTheCard(t *testing.T) {
	t.Parallel()
	phone := browsertest.NewPhone(t, newCompany(t).Site)
	for query, want := range map[string]string{
		"camera=25&screen=50":                   "None is good; least bad: the ",
		"camera=fast&screen=60":                 "camera's rate can not be read",
		"camera=25&screen=":                     "screen's rate can not be read",
		"camera=25&screen=100/3":                "No file is shown evenly",
		"camera=%3Cscript%3Ex&screen=60":        "camera's rate can not be read",
		"camera=30000/1001&screen=60000%2F1001": "least bad", // one rate and its double
	} {
		phone.Open("/card?" + query)
		phone.Want(want)
	}
	phone.Open("/card")
	if browsertest.Run(phone, chromedp.Evaluate[bool](`document.querySelector(".answer[role=status]") !== null`)) {
		t.Error("an answer to no question")
	}
	phone.Choose("#camera", "24")
	phone.Choose("#screen", "60")
	phone.Follow(browsertest.Named("Which file?"))
	phone.Want("The 30 file")
	if got := phone.Path(); got != "/card?camera=24&screen=60#files" {
		t.Errorf("the question leads to %s", got)
	}
}
