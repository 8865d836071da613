package main

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestCodes(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	write := func(source string) {
		writeFile(t, filepath.Join(root, "words", "words.go"), "package words\n\n"+source)
		writeFile(t, filepath.Join(root, "words", "words_test.go"), "not Go, and not read\n")
	}
	write("const (\n\tOne Kind = \"one-kind\" // the  first\n\tOther Place = \"other\"\n)\n\n" +
		"// Two says that the second\n// of them.\nconst Two other.Kind = \"two-kind\"\n\nconst FlagBad = \"bad\" // goes wrong\n")
	for _, test := range []struct {
		list codeList
		want []code
	}{
		{codeList{folder: "words", typed: "Kind"}, []code{{"one-kind", "the first"}, {"two-kind", "the second of them"}}},
		{codeList{folder: "words", prefix: "Flag"}, []code{{"bad", "goes wrong"}}},
	} {
		got, err := test.list.read(root)
		if err != nil || !slices.Equal(got, test.want) {
			t.Errorf("%+v: got %v, %v, want %v", test.list, got, err, test.want)
		}
	}
	for source, want := range map[string]string{
		"const (\n\tOne Kind = \"one\"\n)\n":         "say in a comment",
		"const (\n\tOne Kind = first // one\n)\n":    "plain string",
		"const (\n\tOne Place = \"one\" // one\n)\n": "no codes of Kind",
	} {
		write(source)
		if _, err := (codeList{folder: "words", typed: "Kind"}).read(root); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want one that says %q", source, err, want)
		}
	}
}
