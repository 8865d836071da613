package planfile

import (
	"encoding/json"
	"fmt"
	"math/big"
	"slices"
	"sort"
	"strings"

	"delaybook/domain/plan"
)

// A reader collects what is wrong.
type reader struct{ fields []plan.Field }

// A node is a JSON value and where it stands. A member that is absent is a node without a value; so
// is null, which in a plan file means the same.
type node struct {
	reader  *reader
	pointer string
	value   any
}

func (n node) refuse(detail, send string) {
	n.reader.fields = append(n.reader.fields, plan.Field{Pointer: n.pointer, Detail: detail, Send: send})
}

// only refuses members that are not known, naming those that are.
func (n node) only(known ...string) {
	object, ok := n.value.(map[string]any)
	if !ok {
		n.refuse("is "+kind(n.value), "an object")
		return
	}
	var strange []string
	for name := range object {
		if !slices.Contains(known, name) {
			strange = append(strange, name)
		}
	}
	sort.Strings(strange)
	for _, name := range strange {
		n.get(name).refuse("is not a member that is known here", "one of "+strings.Join(known, ", "))
	}
}

var escape = strings.NewReplacer("~", "~0", "/", "~1")

func (n node) get(name string) node {
	object, _ := n.value.(map[string]any)
	return node{n.reader, n.pointer + "/" + escape.Replace(name), object[name]}
}

// required refuses an absent value.
func (n node) required() node {
	if n.value == nil {
		n.refuse("is missing", "a value")
	}
	return n
}

func (n node) list() []node {
	if n.value == nil {
		return nil
	}
	values, ok := n.value.([]any)
	if !ok {
		n.refuse("is "+kind(n.value), "a list")
		return nil
	}
	out := make([]node, len(values))
	for i, v := range values {
		out[i] = node{n.reader, fmt.Sprintf("%s/%d", n.pointer, i), v}
	}
	return out
}

func (n node) text() string {
	s, ok := n.value.(string)
	if !ok && n.value != nil {
		n.refuse("is "+kind(n.value), "a string")
	}
	return s
}

func (n node) texts() []string {
	var out []string
	for _, x := range n.list() {
		out = append(out, x.required().text())
	}
	return out
}

func (n node) flag(otherwise bool) bool {
	b, ok := n.value.(bool)
	if !ok {
		if n.value != nil {
			n.refuse("is "+kind(n.value), "true or false")
		}
		return otherwise
	}
	return b
}

// maxDigits keeps a number like 1e999999999 from being written out.
const maxDigits = 60

// exact reads a decimal or a fraction, from a string or a number; nil when absent.
func (n node) exact() *big.Rat {
	var s string
	switch v := n.value.(type) {
	case nil:
		return nil
	case string:
		s = v
	case json.Number:
		s = v.String()
	default:
		n.refuse("is "+kind(n.value), `a number, as "12.5", "1001/30" or 12.5`)
		return nil
	}
	r, ok := parse(s)
	if !ok {
		n.refuse(fmt.Sprintf("%q is not a number", clip(s)), `a decimal such as "12.5" or a fraction such as "1001/30"`)
		return nil
	}
	return r
}

// parse reads digits, a point, a fraction and a small exponent; not the hexadecimal, underscores and
// huge exponents that big.Rat takes too.
func parse(s string) (*big.Rat, bool) {
	if len(s) > maxDigits || strings.Trim(s, "0123456789.+-/eE") != "" {
		return nil, false
	}
	if i := strings.IndexAny(s, "eE"); i >= 0 && len(strings.TrimLeft(s[i+1:], "+-0")) > 2 {
		return nil, false
	}
	return new(big.Rat).SetString(s)
}

func (n node) float(otherwise float64) float64 {
	r := n.exact()
	if r == nil {
		return otherwise
	}
	f, _ := r.Float64()
	return f
}

func clip(s string) string {
	if len(s) > maxDigits {
		return s[:maxDigits] + "..."
	}
	return s
}

func kind(v any) string {
	switch v.(type) {
	case nil:
		return "null"
	case string:
		return "a string"
	case json.Number:
		return "a number"
	case bool:
		return "true or false"
	case []any:
		return "a list"
	default:
		return "an object"
	}
}
