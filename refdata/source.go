package refdata

import (
	"fmt"
	"maps"
	"strings"
	"sync"
)

// Source is an entry of sources.bib. Fields that the entry lacks are empty.
type Source struct {
	Key, Type                         string // Type is the BibTeX entry type, such as article
	Author, Title, Journal, Booktitle string
	Year, Volume, Number, Pages       string
	DOI, URL, Note                    string
}

// Sources returns the bibliography by source key.
func Sources() map[string]Source { return maps.Clone(sources()) }

var sources = sync.OnceValue(func() map[string]Source {
	data, err := embedded.ReadFile("sources.bib")
	var all map[string]Source
	if err == nil {
		all, err = parseBib(string(data))
	}
	if err != nil {
		panic(fmt.Sprintf("refdata: sources.bib: %v", err))
	}
	return all
})

// parseBib reads the narrow kind of BibTeX that sources.bib is kept in: one
// field a line as "name = {text},", no nested braces, "}" alone ends an entry.
func parseBib(text string) (map[string]Source, error) {
	all := map[string]Source{}
	var s *Source
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		fault := func(what string) error { return fmt.Errorf("line %d: %s: %q", i+1, what, line) }
		switch {
		case line == "":
		case s == nil:
			kind, key, ok := strings.Cut(strings.TrimSuffix(line, ","), "{")
			if !ok || len(kind) < 2 || kind[0] != '@' || key == "" {
				return nil, fault("not the head of an entry")
			}
			if _, twice := all[key]; twice {
				return nil, fault("key used twice")
			}
			s = &Source{Key: key, Type: kind[1:]}
		case line == "}":
			all[s.Key] = *s
			s = nil
		default:
			name, value, ok := strings.Cut(line, " = {")
			value, closed := strings.CutSuffix(value, "},")
			if !ok || !closed || strings.ContainsAny(value, "{}") {
				return nil, fault("not a field")
			}
			field := s.field(name)
			if field == nil || *field != "" {
				return nil, fault("field unknown or repeated")
			}
			*field = value
		}
	}
	if s != nil {
		return nil, fmt.Errorf("entry %q does not end", s.Key)
	}
	return all, nil
}

func (s *Source) field(name string) *string {
	switch name {
	case "author":
		return &s.Author
	case "title":
		return &s.Title
	case "journal":
		return &s.Journal
	case "booktitle":
		return &s.Booktitle
	case "year":
		return &s.Year
	case "volume":
		return &s.Volume
	case "number":
		return &s.Number
	case "pages":
		return &s.Pages
	case "doi":
		return &s.DOI
	case "url":
		return &s.URL
	case "note":
		return &s.Note
	default:
		return nil
	}
}
