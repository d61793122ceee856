package mail_test

import (
	"bufio"
	"context"
	"errors"
	"io"
	"net"
	"strings"
	"testing"
	"time"

	"gaugebook/server/mail"
)

// script is what a raw TCP server does with one connection, to break a
// conversation at an exact point as no well-behaved server would.
type script func(t *testing.T, c net.Conn, r *bufio.Reader)

func serve(t *testing.T, run script) mail.SMTP {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer func() { _ = c.Close() }()
		run(t, c, bufio.NewReader(c))
	}()
	t.Cleanup(func() { _ = l.Close(); <-done })
	s := settingsFor(t, l)
	// Long enough for every answer on a busy machine, since a test of one stage
	// must not fail in an earlier one; tests that wait for it run in parallel.
	s.Timeout, s.AcceptTimeout = 3*time.Second, 3*time.Second
	return s
}

func say(c net.Conn, line string) { _, _ = io.WriteString(c, line+"\r\n") }

// untilContent answers every command up to DATA, the go-ahead included.
func untilContent(c net.Conn, r *bufio.Reader) {
	say(c, "220 mx.example.test ready")
	for {
		line, err := r.ReadString('\n')
		switch {
		case err != nil:
			return
		case strings.HasPrefix(line, "DATA"):
			say(c, "354 go ahead")
			return
		default:
			say(c, "250 ok")
		}
	}
}

// untilDot reads the content with its last line.
func untilDot(t *testing.T, r *bufio.Reader) {
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			t.Errorf("the content broke off: %v", err)
			return
		}
		if line == ".\r\n" {
			return
		}
	}
}

// atStep answers n commands after the greeting and then drops the line.
func atStep(n int) script {
	return func(_ *testing.T, c net.Conn, r *bufio.Reader) {
		say(c, "220 ready")
		for range n {
			if _, err := r.ReadString('\n'); err != nil {
				return
			}
			say(c, "250 ok")
		}
		_, _ = r.ReadString('\n')
	}
}

func linger(_ *testing.T, c net.Conn, r *bufio.Reader) { _, _ = io.Copy(io.Discard, r) }

func TestSMTPBrokenConversations(t *testing.T) {
	tests := map[string]struct {
		run   script
		class mail.Class
		stage mail.Stage
	}{
		"dropped at once": {func(*testing.T, net.Conn, *bufio.Reader) {}, mail.Temporary, mail.StageGreeting},
		"silent":          {linger, mail.Temporary, mail.StageGreeting},
		"speaks something else": {func(_ *testing.T, c net.Conn, r *bufio.Reader) {
			say(c, "hello")
			linger(nil, c, r)
		}, mail.Temporary, mail.StageGreeting},
		"turned away for good": {func(_ *testing.T, c net.Conn, r *bufio.Reader) {
			say(c, "554 go away")
			linger(nil, c, r)
		}, mail.Temporary, mail.StageGreeting},
		"dropped at the sender":   {atStep(1), mail.Temporary, mail.StageSender},
		"dropped at recipient":    {atStep(2), mail.Temporary, mail.StageRecipient},
		"dropped at DATA":         {atStep(3), mail.Temporary, mail.StageContent},
		"go-ahead is not one":     {atStep(4), mail.Temporary, mail.StageContent}, // 250 where 354 belongs
		"dropped after last line": {afterDot(""), mail.Unsure, mail.StageAcceptance},
		"half an answer":          {afterDot("250"), mail.Unsure, mail.StageAcceptance},
		"answer is garbage":       {afterDot("fine\r\n"), mail.Unsure, mail.StageAcceptance},
		"answer is a go-ahead":    {afterDot("354 more\r\n"), mail.Unsure, mail.StageAcceptance},
		"shutting down":           {afterDot("421 4.3.2 closing\r\n"), mail.Temporary, mail.StageAcceptance},
		"no answer in time": {func(t *testing.T, c net.Conn, r *bufio.Reader) {
			untilContent(c, r)
			untilDot(t, r)
			linger(t, c, r)
		}, mail.Unsure, mail.StageAcceptance},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := serve(t, tt.run).Send(t.Context(), letter())
			failed(t, err, tt.class, tt.stage)
		})
	}
}

// afterDot takes the letter whole, gives answer and drops the line.
func afterDot(answer string) script {
	return func(t *testing.T, c net.Conn, r *bufio.Reader) {
		untilContent(c, r)
		untilDot(t, r)
		_, _ = io.WriteString(c, answer)
	}
}

// A letter that was accepted stays accepted whatever happens to the goodbye.
func TestSMTPAcceptedThenDropped(t *testing.T) {
	receipt, err := serve(t, afterDot("250-2.0.0 taken\r\n250 2.0.0 as 12ab\r\n")).Send(t.Context(), letter())
	if err != nil {
		t.Fatal(err)
	}
	if receipt.Response != "2.0.0 taken\n2.0.0 as 12ab" {
		t.Errorf("response %q", receipt.Response)
	}
}

// bulky is more than the buffers between the two ends hold.
func bulky() mail.Message {
	m := letter()
	m.Attachments[0].Data = make([]byte, 32<<20)
	return m
}

// A line that breaks before the last line went out is no reason for doubt, and
// the half letter must not be ended properly, or the server would deliver it.
func TestSMTPDroppedInTheContent(t *testing.T) {
	gaveUp := make(chan struct{}) // by the client: a fixed pause would be a race with a slow machine
	tests := map[string]script{
		"dropped": func(_ *testing.T, c net.Conn, r *bufio.Reader) {
			untilContent(c, r)
			_, _ = io.CopyN(io.Discard, r, 100_000)
		},
		"stalled": func(t *testing.T, c net.Conn, r *bufio.Reader) {
			untilContent(c, r)
			<-gaveUp
			if rest, _ := io.ReadAll(r); strings.Contains(string(rest), "\r\n.\r\n") {
				t.Error("half a letter was ended properly")
			}
		},
	}
	for name, run := range tests {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := serve(t, run)
			_, err := s.Send(t.Context(), bulky())
			if name == "stalled" {
				close(gaveUp)
			}
			failed(t, err, mail.Temporary, mail.StageContent)
		})
	}
}

// A server that refuses a letter half-way and stops reading is heard.
func TestSMTPRefusedInTheContent(t *testing.T) {
	t.Parallel()
	heard := make(chan struct{})
	s := serve(t, func(_ *testing.T, c net.Conn, r *bufio.Reader) {
		untilContent(c, r)
		_, _ = io.CopyN(io.Discard, r, 1000)
		say(c, "552 5.3.4 too big for us")
		<-heard
	})
	_, err := s.Send(t.Context(), bulky())
	close(heard)
	if e := failed(t, err, mail.Permanent, mail.StageContent); e.Code != 552 || e.Enhanced != "5.3.4" ||
		e.Response != "5.3.4 too big for us" {
		t.Errorf("%+v", e)
	}
}

func TestSMTPCancelled(t *testing.T) {
	t.Run("before", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		s := &mailServer{}
		settings := s.start(t, nil)
		_, err := settings.Send(ctx, letter())
		failed(t, err, mail.Temporary, mail.StageConnect)
		if !errors.Is(err, context.Canceled) || len(s.got()) != 0 {
			t.Errorf("%v, %d letters", err, len(s.got()))
		}
	})
	t.Run("while the server is silent", func(t *testing.T) {
		t.Parallel()
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
		defer cancel()
		s := serve(t, linger)
		s.Timeout = time.Minute
		_, err := s.Send(ctx, letter())
		failed(t, err, mail.Temporary, mail.StageGreeting)
		if !errors.Is(err, context.DeadlineExceeded) {
			t.Error(err)
		}
	})
	t.Run("after the last line the answer is still heard", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		s := serve(t, func(t *testing.T, c net.Conn, r *bufio.Reader) {
			untilContent(c, r)
			untilDot(t, r)
			cancel()
			<-ctx.Done()
			say(c, "250 taken")
		})
		s.Timeout, s.AcceptTimeout = time.Minute, time.Minute
		if receipt, err := s.Send(ctx, letter()); err != nil || receipt.Response != "taken" {
			t.Errorf("%+v, %v", receipt, err)
		}
	})
	t.Run("after the last line the wait becomes short", func(t *testing.T) {
		t.Parallel()
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		s := serve(t, func(t *testing.T, c net.Conn, r *bufio.Reader) {
			untilContent(c, r)
			untilDot(t, r)
			cancel()
			linger(t, c, r)
		})
		s.AcceptTimeout = time.Hour
		_, err := s.Send(ctx, letter())
		failed(t, err, mail.Unsure, mail.StageAcceptance)
	})
}

func TestClassOfForeignError(t *testing.T) {
	if got := mail.ClassOf(errors.New("from elsewhere")); got != mail.Unsure {
		t.Errorf("got %q: what is not known must not be sent again", got)
	}
}
