package main

import (
	"net"
	"net/http"
	"testing"

	"delaybook/api/pages/browsertest"
	"delaybook/cmd/internal/analyst/cardtest"
	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
)

// TestAPhoneSendsARecording: a film of the card, by the program as it is run,
// over TLS and under a host name, to a setting on the phone. The sound of the
// film is early by 5 frames at 30000/1001, 166.8 ms.
func TestAPhoneSendsARecording(t *testing.T) {
	t.Parallel()
	const offsetMS, seconds = 166.8, 12
	film := cardtest.File(t, decodertest.OpenNative(t, decoder.Limits{}), offsetMS, seconds)
	data := folder(t)
	plain := start(t, "serve", "--data", data)
	admin := say(t, "key", "create", "--role", "admin", "--data", data)
	plain.addHall(t, admin)
	tech := say(t, "key", "create", "--role", "tech", "--crew", "red-van", "--label", "Sam", "--data", data)
	plain.end(t)

	certificate, key := browsertest.WriteCertificate(t, t.TempDir())
	p := start(t, "serve", "--data", data, "--tls-cert", certificate, "--tls-key", key, "--public-url", "https://"+browsertest.Host, "--decoder", "ffmpeg")
	_, port, err := net.SplitHostPort(p.address)
	if err != nil {
		t.Fatal(err)
	}
	phone := browsertest.StartBrowser(t, t.TempDir()).Phone(t, browsertest.At(port))
	phone.SignIn(tech)
	if status := phone.Open("/rigs/red-van.hall/record"); status != http.StatusOK {
		t.Fatalf("the form: status %d", status)
	}
	phone.Within(`document.querySelector("[aria-live]")`)
	phone.Pick("#file", film)
	phone.Type("#dial\\.lectern-delay", "0")
	phone.Tap(`input[name=changed][value=yes]`)
	phone.Tap(browsertest.Named("Send it"))
	phone.Soon("Sound early 5 frames", "Accept")
	phone.Within(`document.querySelector("img.events").naturalWidth > 0`)
	phone.Follow(browsertest.Named("Accept"))
	phone.Want("cam-1 with lectern, read at programme", "What to set now", "lectern-delay", "to 5 frames")
}
