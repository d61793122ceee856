package server_test

import (
	"os"
	"testing"

	"gaugebook/server/servertest/chromium"
)

func TestMain(m *testing.M) { os.Exit(chromium.Run(m)) }
