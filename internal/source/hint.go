package source

import "strings"

// CommaHint is the remedy for a list in [ ] or a map in { } in which a comma seems to
// have cut one value in two, as in `{below: least(a, bar(3.0))}`, `{text: sheet, rev B}`
// or `[1 s, 1,5 bar]`; "" where nothing looks cut. For callers that met an unknown key
// or a wrong number of items.
func (n *Node) CommaHint() string {
	if n == nil || !n.Flow {
		return ""
	}
	switch n.Kind {
	case Map:
		for i, e := range n.Entries {
			if !e.Value.Empty() || i == 0 {
				continue
			}
			before := n.Entries[i-1].Value
			if before.Empty() {
				before = n.Entries[i-1].Key
			}
			if decimalComma(before, e.Key) {
				return decimalRemedy(before, e.Key)
			}
			return "a comma inside { } starts a new key: put the value of " + quoted(n.Entries[i-1].Key.Text) + " in quotes"
		}
	case List:
		for i := 1; i < len(n.Items); i++ {
			if decimalComma(n.Items[i-1], n.Items[i]) {
				return decimalRemedy(n.Items[i-1], n.Items[i])
			}
		}
		for _, item := range n.Items {
			if open := strings.Count(item.Text, "(") - strings.Count(item.Text, ")"); item.Style == Plain && open != 0 {
				return "a comma inside [ ] starts a new item: put each expression in quotes"
			}
		}
	}
	return ""
}

func quoted(s string) string {
	if s == "`" {
		return "a backtick"
	}
	return "`" + s + "`"
}

// decimalComma says that two scalars stand around a comma between two digits.
func decimalComma(a, b *Node) bool {
	if a.Kind != Scalar || b.Kind != Scalar || a.Style != Plain || b.Style != Plain || a.Text == "" || b.Text == "" ||
		a.Pos.Line != b.Pos.Line || a.Pos.Column+len([]rune(a.Text))+1 != b.Pos.Column {
		return false
	}
	return digit(a.Text[len(a.Text)-1]) && digit(b.Text[0])
}

func digit(c byte) bool { return '0' <= c && c <= '9' }

func decimalRemedy(a, b *Node) string {
	if digits := len(b.Text) - len(strings.TrimLeft(b.Text, "0123456789")); digits == 3 {
		return "a comma does not group digits: write `" + a.Text + b.Text + "`, or `" + a.Text + "." + b.Text + "` if it is a decimal one"
	}
	return "a comma is not a decimal point: write `" + a.Text + "." + b.Text + "`"
}
