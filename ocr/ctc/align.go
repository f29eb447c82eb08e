package ctc

// Places returns where the line says each symbol of text, one place each and in order, along the likeliest path that spells it; nil
// where the line is too short for the text, or text is empty.
func (l *Line) Places(text []int) []int {
	n := 2*len(text) + 1
	if len(text) == 0 {
		return nil
	}
	for _, s := range text {
		if s <= 0 || s >= l.symbols {
			return nil
		}
	}
	symbol := func(i int) int {
		if i%2 == 0 {
			return 0
		}
		return text[i/2]
	}
	best, from := make([][]float64, l.places), make([][]int8, l.places)
	for t := range best {
		best[t], from[t] = make([]float64, n), make([]int8, n)
		row := l.at(t)
		for i := range n {
			best[t][i] = never
			if t == 0 {
				if i < 2 {
					best[t][i] = row[symbol(i)]
				}
				continue
			}
			for step := range min(i, 2) + 1 {
				if step == 2 && (i%2 == 0 || i < 3 || text[i/2] == text[i/2-1]) {
					continue // a symbol may follow another one without a blank, unless they are alike
				}
				if v := best[t-1][i-step]; v > best[t][i] {
					best[t][i], from[t][i] = v, int8(step)
				}
			}
			best[t][i] += row[symbol(i)]
		}
	}
	i := n - 1
	if best[l.places-1][n-2] > best[l.places-1][n-1] {
		i = n - 2
	}
	if best[l.places-1][i] == never {
		return nil
	}
	first, last := make([]int, len(text)), make([]int, len(text))
	for t := l.places - 1; t >= 0; t-- {
		if i%2 == 1 {
			if last[i/2] == 0 {
				last[i/2] = t
			}
			first[i/2] = t
		}
		i -= int(from[t][i])
	}
	places := make([]int, len(text))
	for k := range places {
		places[k] = (first[k] + last[k]) / 2
	}
	return places
}
