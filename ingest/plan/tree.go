package plan

import (
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// No key of a plan has more parts than two.
const maxParts = 8

// build makes the tree. The text has passed the library's decoder, so no key comes twice and
// no table is reopened.
func (d *document) build() {
	d.root = newTable(0, "")
	here := d.root
	var p unstable.Parser
	p.Reset(d.text)
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			here = d.open(e)
		case unstable.KeyValue:
			d.assign(here, e)
		}
	}
}

func newTable(at int, name string) *table {
	return &table{at: at, name: name, named: map[string]*key{}}
}

// dotted is one part of a dotted key.
type dotted struct {
	name string
	at   int
}

// parts reads a dotted key; one with absurdly many is cut, and so becomes an unknown key.
func parts(it unstable.Iterator) (list []dotted, end int) {
	for it.Next() {
		n := it.Node()
		end = int(n.Raw.Offset + n.Raw.Length)
		if len(list) < maxParts {
			list = append(list, dotted{string(n.Data), int(n.Raw.Offset)})
		}
	}
	return list, end
}

// open finds or makes the table that a heading names.
func (d *document) open(e *unstable.Node) *table {
	path, _ := parts(e.Key())
	t := d.root
	for _, p := range path[:len(path)-1] {
		t = t.step(p)
	}
	last := path[len(path)-1]
	// The place of a heading is its bracket.
	at := last.at
	for at > 0 && d.text[at-1] != '\n' {
		at--
	}
	for at < last.at && (d.text[at] == ' ' || d.text[at] == '\t') {
		at++
	}
	if e.Kind == unstable.Table {
		sub := t.step(last)
		sub.at = at
		return sub
	}
	sub := newTable(at, path[len(path)-1].name)
	k := t.named[last.name]
	if k == nil {
		k = t.add(last, &item{at: at, kind: unstable.Array})
	}
	k.item.list = append(k.item.list, &item{at: at, kind: unstable.InlineTable, sub: sub})
	return sub
}

// step goes down to the table under a key, the last one of a list, making it when it isn't there.
func (t *table) step(p dotted) *table {
	k := t.named[p.name]
	if k == nil {
		name := p.name
		if t.name != "" {
			name = t.name + "." + name
		}
		k = t.add(p, &item{at: p.at, kind: unstable.InlineTable, sub: newTable(p.at, name)})
	}
	if n := len(k.item.list); n > 0 && k.item.list[n-1].sub != nil {
		return k.item.list[n-1].sub
	}
	if k.item.sub == nil { // can't be: the decoder refuses it
		return newTable(p.at, p.name)
	}
	return k.item.sub
}

func (t *table) add(p dotted, it *item) *key {
	k := &key{name: p.name, at: p.at, item: it}
	t.keys = append(t.keys, k)
	t.named[p.name] = k
	return k
}

// assign puts key = value into a table.
func (d *document) assign(t *table, kv *unstable.Node) {
	path, end := parts(kv.Key())
	for _, p := range path[:len(path)-1] {
		t = t.step(p)
	}
	last := path[len(path)-1]
	for end < len(d.text) && strings.IndexByte(" \t=", d.text[end]) >= 0 {
		end++
	}
	t.add(last, d.value(kv.Value(), end, last.name))
}

// value makes an item of a node; lists carry no place of their own in the library's tree.
func (d *document) value(n *unstable.Node, at int, name string) *item {
	if n.Raw.Length > 0 {
		at = int(n.Raw.Offset)
	}
	it := &item{at: at, kind: n.Kind, text: string(n.Data)}
	switch n.Kind {
	case unstable.Array:
		for c := n.Children(); c.Next(); {
			it.list = append(it.list, d.value(c.Node(), at, name))
		}
	case unstable.InlineTable:
		it.sub = newTable(at, name)
		for c := n.Children(); c.Next(); {
			d.assign(it.sub, c.Node())
		}
	}
	return it
}
