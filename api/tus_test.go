package api_test

import (
	"encoding/base64"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The tests follow version 1.0.0 of the tus protocol, https://tus.io/protocols/resumable-upload:
// the core protocol and its extensions creation and termination.

// metadata writes pairs as Upload-Metadata wants them: keys, and values in Base64.
func metadata(fields map[string]string) string {
	var parts []string
	for name, value := range fields {
		parts = append(parts, name+" "+base64.StdEncoding.EncodeToString([]byte(value)))
	}
	return strings.Join(parts, ",")
}

func (s *site) begin(key string, size int, fields map[string]string) answer {
	s.tb.Helper()
	return s.send(key, http.MethodPost, "/v1/rigs/hall/clips", nil,
		"Tus-Resumable", "1.0.0", "Upload-Length", strconv.Itoa(size), "Upload-Metadata", metadata(fields))
}

func (s *site) patch(key, path string, offset int, part string) answer {
	s.tb.Helper()
	return s.send(key, http.MethodPatch, path, []byte(part),
		"Tus-Resumable", "1.0.0", "Upload-Offset", strconv.Itoa(offset), "Content-Type", "application/offset+octet-stream")
}

func (s *site) offset(key, path string) string {
	s.tb.Helper()
	return s.send(key, http.MethodHead, path, nil, "Tus-Resumable", "1.0.0").want(http.StatusOK).header.Get("Upload-Offset")
}

func TestAnUploadIsTakenUpAgain(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	tech := s.key("tech", "red-van")
	const text = "offset 166.9\n"
	begun := s.begin(tech, len(text), pairFields("filename", `C:\clips\beep.mov`, "filetype", "video/quicktime")).want(http.StatusCreated)
	path := begun.header.Get("Location")
	if !strings.HasPrefix(path, "/v1/uploads/") {
		t.Fatalf("Location %q", path)
	}
	if got := s.patch(tech, path, 0, text[:4]).want(http.StatusNoContent).header.Get("Upload-Offset"); got != "4" {
		t.Errorf("after the first part %q bytes are there", got)
	}
	s.patch(tech, path, 0, text).want(http.StatusConflict)
	s.cut(tech, path, 4, text[4:8])
	s.serve() // and the service is another one meanwhile
	left := s.offset(tech, path)
	if left != "8" {
		t.Fatalf("after the interruption %q bytes are there, want 8", left)
	}
	last := s.patch(tech, path, 8, text[8:]).want(http.StatusNoContent)
	clip := last.header.Get("Clip-Location")
	s.work()
	id := strings.TrimPrefix(clip, "/v1/clips/")
	done := s.settled(tech, id)
	if done.at("state") != "done" || done.at("result.offset_ms") != 166.9 || done.at("files.0.name") != "beep.mov" {
		t.Errorf("clip: %s", done.body)
	}
	// The answer to the last part was lost: all is there, and where it went is said.
	head := s.send(tech, http.MethodHead, path, nil, "Tus-Resumable", "1.0.0").want(http.StatusOK)
	if head.header.Get("Upload-Offset") != strconv.Itoa(len(text)) || head.header.Get("Clip-Location") != clip {
		t.Errorf("HEAD afterwards: %v", head.header)
	}
	if files, err := os.ReadDir(filepath.Join(s.dir, "uploads")); err != nil || len(files) != 0 {
		t.Errorf("left of the upload: %v %v", files, err)
	}
}

// cut sends a part with a promise of more, and breaks the connection off.
func (s *site) cut(key, path string, offset int, part string) {
	s.tb.Helper()
	reader, writer := io.Pipe()
	r, err := http.NewRequestWithContext(s.tb.Context(), http.MethodPatch, s.bare+path, reader)
	if err != nil {
		s.tb.Fatal(err)
	}
	r.ContentLength = 1000
	for name, value := range map[string]string{
		"Authorization": "Bearer " + key, "Tus-Resumable": "1.0.0", "Upload-Offset": strconv.Itoa(offset),
		"Content-Type": "application/offset+octet-stream",
	} {
		r.Header.Set(name, value)
	}
	r.ContentLength = int64(len(part)) + 1
	go func() {
		_, _ = io.WriteString(writer, part)
		time.Sleep(200 * time.Millisecond) // until the part is on its way
		_ = writer.CloseWithError(io.ErrClosedPipe)
	}()
	if response, err := http.DefaultClient.Do(r); err == nil {
		_ = response.Body.Close()
	}
	for range 100 {
		if s.offset(key, path) == strconv.Itoa(offset+len(part)) {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// TestTwoFilesComeBitByBit: the first one waits for the second.
func TestTwoFilesComeBitByBit(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.work()
	tech := s.key("tech", "red-van")
	fields := map[string]string{"method": "tracks", "first": "live", "second": "lectern", "settings": "lectern-delay=0", "files": "2"}
	path := s.begin(tech, 11, fields).want(http.StatusCreated).header.Get("Location")
	id := strings.TrimPrefix(s.patch(tech, path, 0, "offset -12\n").want(http.StatusNoContent).header.Get("Clip-Location"), "/v1/clips/")
	if got := s.get(tech, "/v1/clips/"+id).at("state"); got != "uploaded" {
		t.Fatalf("with one of two files it is %v", got)
	}
	s.begin(s.key("tech", "blue-van"), 5, map[string]string{"second_of": id}).want(http.StatusNotFound)
	second := s.begin(tech, 5, map[string]string{"second_of": id, "filename": "desk.wav"}).want(http.StatusCreated).header.Get("Location")
	if got := s.patch(tech, second, 0, "quiet").want(http.StatusNoContent).header.Get("Clip-Location"); got != "/v1/clips/"+id {
		t.Errorf("the second file went to %q", got)
	}
	done := s.settled(tech, id)
	if done.at("state") != "done" || done.at("result.offset_ms") != -12.0 || done.at("files.1.name") != "desk.wav" {
		t.Errorf("done: %s", done.body)
	}
	s.begin(tech, 5, map[string]string{"second_of": id}).want(http.StatusConflict)
}

func TestWhoMayGoOnWithAnUpload(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	s.kept.MostBytes = 100
	s.serve()
	tech, other, reader := s.key("tech", "red-van"), s.key("tech", "blue-van"), s.key("reader", "red-van")
	s.begin(other, 10, pairFields()).want(http.StatusNotFound)
	s.begin(reader, 10, pairFields()).want(http.StatusForbidden)
	s.begin(tech, 101, pairFields()).want(http.StatusRequestEntityTooLarge)
	s.begin(tech, 10, pairFields("colour", "red")).refuses(http.StatusUnprocessableEntity, "colour", "picture")
	s.begin(tech, 10, pairFields("distance_m", "far")).refuses(http.StatusUnprocessableEntity, "distance_m", "1.2")
	s.begin(tech, 10, pairFields("delaybook-rig", "attic")).want(http.StatusUnprocessableEntity)
	path := s.begin(tech, 10, pairFields()).want(http.StatusCreated).header.Get("Location")
	for _, key := range []string{other, reader} {
		s.patch(key, path, 0, "0123456789").want(http.StatusNotFound)
		s.send(key, http.MethodHead, path, nil, "Tus-Resumable", "1.0.0").want(http.StatusNotFound)
		s.send(key, http.MethodDelete, path, nil, "Tus-Resumable", "1.0.0").want(http.StatusNotFound)
	}
	s.send(tech, http.MethodPatch, path, []byte("0"), "Upload-Offset", "0", "Tus-Resumable", "0.2").want(http.StatusPreconditionFailed)
	s.send(tech, http.MethodDelete, path, nil, "Tus-Resumable", "1.0.0").want(http.StatusNoContent)
	s.send(tech, http.MethodHead, path, nil, "Tus-Resumable", "1.0.0").want(http.StatusNotFound)
	s.send(tech, http.MethodHead, "/v1/uploads/..%2Fhost", nil, "Tus-Resumable", "1.0.0").want(http.StatusNotFound)
}

// TestAWrongUploadIsToldAtItsEnd: what only the book knows is found once all is there.
func TestAWrongUploadIsToldAtItsEnd(t *testing.T) {
	t.Parallel()
	s, _ := newStudio(t)
	tech := s.key("tech", "red-van")
	path := s.begin(tech, 8, pairFields("sound", "stage")).want(http.StatusCreated).header.Get("Location")
	s.patch(tech, path, 0, "offset 1").refuses(http.StatusUnprocessableEntity, "sound", "lectern")
	if folders, err := s.kept.Files.Folders(time.Now().Add(time.Hour)); err != nil || len(folders) != 0 {
		t.Errorf("left behind: %v %v", folders, err)
	}
	// Nobody comes back for it: after a day it is gone.
	if err := s.kept.Files.ExpireUploads(time.Now().Add(-time.Hour)); err != nil {
		t.Fatal(err)
	}
	if s.offset(tech, path) != "8" {
		t.Error("a fresh upload expired")
	}
	if err := s.kept.Files.ExpireUploads(time.Now().Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	s.send(tech, http.MethodHead, path, nil, "Tus-Resumable", "1.0.0").want(http.StatusNotFound)
}
