package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"gatefold/cmd/internal/hands"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
)

// layouts measures the variants of the card: each card is filled by the same hand, with the same glyphs and
// texts, and photographed by the same camera in every variant, ordinary and hard. cards are for each level;
// readings are added to file, so that a longer run goes on where a shorter one ended.
func layouts(ctx context.Context, file, only string, cards int, first uint64) (err error) {
	which, err := chosen(only)
	if err != nil {
		return err
	}
	all, err := calibrationHands(ctx)
	if err != nil {
		return err
	}
	o, err := os.OpenFile(file, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.Close()) }()
	s, err := newStudier(which, all, json.NewEncoder(o))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.reader.Close()) }()
	for i := range cards {
		for _, level := range []string{camera.Ordinary, camera.Hard} {
			if err := s.card(camera.Levels()[level], first+uint64(i)); err != nil {
				return err
			}
		}
		fmt.Printf("%d of %d cards, each in %d variants on an ordinary and a hard photo\n", i+1, cards, len(s.variants))
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	return nil
}

// chosen are the variants named, always with the base: nothing is measured but beside it.
func chosen(only string) ([]variant, error) {
	if only == "" {
		return variants, nil
	}
	names := strings.Split(only, ",")
	for _, n := range names {
		if !slices.ContainsFunc(variants, func(v variant) bool { return v.Name == n }) {
			return nil, fmt.Errorf("variant %q: no such one", n)
		}
	}
	var which []variant
	for _, v := range variants {
		if v.Name == "base" || slices.Contains(names, v.Name) {
			which = append(which, v)
		}
	}
	return which, nil
}

// calibrationHands are the only ones that the study may use: thresholds and figures have writers of their own.
func calibrationHands(ctx context.Context) ([]*hands.Hand, error) {
	mnist, err := hand.FindMNIST(ctx)
	if err != nil {
		return nil, err
	}
	all, ids, err := hands.Load(hands.Calibration, mnist, os.Getenv("GATEFOLD_DATA"))
	if err != nil {
		return nil, err
	}
	if !ids {
		return nil, errors.New("writer ids are needed: set GATEFOLD_DATA")
	}
	return all, nil
}
