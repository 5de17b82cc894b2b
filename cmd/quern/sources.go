package main

import (
	"quern/acquire"
	"quern/config"
)

// sources opens nothing yet: it makes a source of every device that the bench describes.
func sources(b config.Bench) ([]acquire.Source, error) {
	return nil, nil
}
