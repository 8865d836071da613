package clipfiles_test

import (
	"slices"
	"strings"
	"testing"

	"delaybook/db/clipfiles"
	"delaybook/domain"

	"github.com/google/uuid"
)

func TestWhatIsMadeOfAClipStaysBesideIt(t *testing.T) {
	t.Parallel()
	f, err := clipfiles.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	id := domain.ClipID{UUID: uuid.New()}
	files := map[string][]byte{"1.jpg": []byte("one"), "2.jpg": []byte("two")}
	if err := f.KeepMade(id, "stills", files, 3); err == nil {
		t.Error("something was kept of a clip that is not there")
	}
	if _, err := f.Write(id, 0, strings.NewReader("film"), 100); err != nil {
		t.Fatal(err)
	}
	if _, ok, err := f.Made(id, "stills"); ok || err != nil {
		t.Errorf("before: %v %v", ok, err)
	}
	for _, folder := range []string{"stills", "a", "b", "stills"} { // the one that is there stays
		if err := f.KeepMade(id, folder, files, 3); err != nil {
			t.Fatal(err)
		}
		files = map[string][]byte{"3.jpg": nil}
	}
	names, ok, err := f.Made(id, "stills")
	if slices.Sort(names); !ok || err != nil || !slices.Equal(names, []string{"1.jpg", "2.jpg"}) {
		t.Errorf("kept: %v %v %v", names, ok, err)
	}
	if data, err := f.MadeFile(id, "stills", "2.jpg"); string(data) != "two" || err != nil {
		t.Errorf("kept: %q %v", data, err)
	}
	if data, err := f.MadeFile(id, "stills", "9.jpg"); data != nil || err != nil {
		t.Errorf("what is not there: %q %v", data, err)
	}
	if err := f.KeepMade(id, "c", files, 3); err != nil {
		t.Fatal(err)
	}
	if _, ok, _ := f.Made(id, "stills"); ok {
		t.Error("of four folders the oldest stayed, though three are kept")
	}
	if err := f.Remove(id); err != nil {
		t.Fatal(err)
	}
	if _, ok, _ := f.Made(id, "c"); ok {
		t.Error("something is left of a clip that was removed")
	}
}
