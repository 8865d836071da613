package pages

import (
	"fmt"
	"html/template"
	"strings"

	"github.com/skip2/go-qrcode"
)

// quietZone is the free border that readers need, modules (ISO/IEC 18004, 6.3.8, from memory).
const quietZone = 4

// qrCode draws a code that a phone's camera reads, as SVG: dark on white in every
// colour scheme, because many readers see nothing in an inverted one. It survives
// the loss of 15 % of its area (level M), which a creased sheet needs. label says
// what it leads to.
func qrCode(text, label string) (template.HTML, error) {
	code, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		return "", fmt.Errorf("make a code of the address: %w", err)
	}
	code.DisableBorder = true
	modules := code.Bitmap()
	var path strings.Builder
	for y, row := range modules {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", from+quietZone, y+quietZone, x-from, x-from)
			}
		}
	}
	side := len(modules) + 2*quietZone
	return template.HTML(fmt.Sprintf(`<svg class="qr" viewBox="0 0 %[1]d %[1]d" shape-rendering="crispEdges" role="img" aria-label="%[2]s">`+
		`<rect width="%[1]d" height="%[1]d" fill="#fff"/><path fill="#000" d="%[3]s"/></svg>`,
		side, template.HTMLEscapeString(label), path.String())), nil
}
