module quern

go 1.26.8
