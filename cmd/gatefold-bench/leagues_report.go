package main

import (
	"context"
	"errors"
)

func leaguesReport(_ context.Context, _ settings) error { return errors.New("not yet") }
