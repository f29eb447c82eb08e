package web_test

import (
	"io/fs"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/web"
)

var declared = regexp.MustCompile(`(--[a-z0-9-]+):\s*([^;]+);`)

// Words must stand out 4.5 to 1 and the edges of fields 3 to 1, by day and at night.
// Source: WCAG 2.2, success criteria 1.4.3 and 1.4.11, and its definition of relative luminance.
func TestTokens_StandOut(t *testing.T) {
	css, err := fs.ReadFile(web.Static(), "tokens.css")
	require.NoError(t, err)
	day, night, found := strings.Cut(string(css), "@media (prefers-color-scheme: dark)")
	require.True(t, found)
	light := map[string]string{}
	for _, d := range declared.FindAllStringSubmatch(day, -1) {
		light[d[1]] = d[2]
	}
	dark := map[string]string{}
	for name, value := range light {
		dark[name] = value
	}
	for _, d := range declared.FindAllStringSubmatch(night, -1) {
		dark[d[1]] = d[2]
	}
	for theme, tokens := range map[string]map[string]string{"light": light, "dark": dark} {
		for _, pair := range []struct {
			front, back string
			least       float64
		}{
			{"--ink", "--paper", 4.5}, {"--ink", "--sheet", 4.5}, {"--ink", "--rule", 4.5}, {"--ink", "--doubt-wash", 4.5},
			{"--ink", "--settled-wash", 4.5}, {"--ink", "--wrong-wash", 4.5}, {"--quiet", "--paper", 4.5}, {"--link", "--paper", 4.5},
			{"--doubt", "--paper", 4.5}, {"--doubt", "--doubt-wash", 4.5}, {"--settled", "--paper", 4.5}, {"--on-act", "--act", 4.5},
			{"--bib-ink", "--bib-face", 4.5}, {"--frame", "--paper", 3}, {"--focus", "--paper", 3}, {"--doubt-mark", "--paper", 3},
			{"--pole-red", "--paper", 3}, {"--pole-blue", "--paper", 3}, {"--track", "--paper", 3},
		} {
			a, b := luminance(t, tokens, pair.front), luminance(t, tokens, pair.back)
			got := (math.Max(a, b) + 0.05) / (math.Min(a, b) + 0.05)
			assert.GreaterOrEqual(t, got, pair.least, "%s: %s on %s", theme, pair.front, pair.back)
		}
	}
}

func luminance(t *testing.T, tokens map[string]string, name string) float64 {
	t.Helper()
	value := tokens[name]
	for strings.HasPrefix(value, "var(") {
		value = tokens[strings.TrimSuffix(strings.TrimPrefix(value, "var("), ")")]
	}
	require.Regexp(t, `^#[0-9a-f]{6}$`, value, name)
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		n, err := strconv.ParseUint(value[1+2*i:3+2*i], 16, 8)
		require.NoError(t, err)
		c := float64(n) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}
