package live

import "context"

type actorKey struct{}

type actor struct {
	name string
	firm bool
}

// By returns a context in which acts are those of a name. If it is firm, a request cannot name somebody else.
func By(ctx context.Context, name string, firm bool) context.Context {
	return context.WithValue(ctx, actorKey{}, actor{name, firm})
}

// by says who acts.
func (a *Asked) by(ctx context.Context) {
	if x, ok := ctx.Value(actorKey{}).(actor); ok && (x.firm || a.Who == "") {
		a.Who = x.name
	}
}
