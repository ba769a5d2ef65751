module likelyground

go 1.26.0

require (
	github.com/airbusgeo/godal v0.0.16
	github.com/goccy/go-yaml v1.19.2
	github.com/klauspost/compress v1.20.4
	github.com/mattn/go-isatty v0.0.24
	github.com/rogpeppe/go-internal v1.16.0
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3
	github.com/schollz/progressbar/v3 v3.19.1
	github.com/spf13/pflag v1.1.0
	golang.org/x/sys v0.50.0
	golang.org/x/text v0.23.0
	pgregory.net/rapid v1.3.0
)

require (
	github.com/mitchellh/colorstring v0.0.0-20190213212951-d06e56a500db // indirect
	github.com/rivo/uniseg v0.4.7 // indirect
	golang.org/x/term v0.44.0 // indirect
	golang.org/x/tools v0.52.0 // indirect
)
