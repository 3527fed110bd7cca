package setup

import (
	"bytes"
	"fmt"
	"strings"
)

// Template returns a commented set-up file that Load accepts as it is. Every
// key stands in it as a comment with its meaning, unit and default.
func Template() []byte {
	var b bytes.Buffer
	b.WriteString(`# Set-up of the bench for slewbook.
#
# Take the # off the keys that you know. Quantities are written in quotes with
# their unit ("4.7 ohm", "50 ns", "1.2 kV"). What is not given is found from the
# captures, or reported as not known; it is never guessed in silence.
#
# Roles of channels: vds, id, vgs (or vce, ic, vge for an IGBT) of the device
# under test, il of the load, v_other, vgs_other, i_other of the freewheeling
# device, ig of the gate. Each has the keys of [channel.vds], with A for V where
# it is a current.
`)
	for _, table := range tables() {
		name := table
		if table == "channel" {
			name = "channel.vds"
		}
		fmt.Fprintf(&b, "\n[%s]\n", name)
		for _, k := range keys {
			if k.table == table && k.only == allRoles {
				k.write(&b)
			}
		}
		switch table {
		case "channel":
			b.WriteString("\n[channel.id] # and, of a current alone:\n# source = \"CH3\"\n")
			for _, k := range keys {
				if k.only != allRoles {
					k.write(&b)
				}
			}
			b.WriteString("\n[channel.vgs]\n# source = \"CH1\"\n")
		case "conditions":
			b.WriteString("\n[conditions.note] # anything else that belongs to the record, in words\n# gate_driver = \"invented driver, Kelvin source\"\n")
		}
	}
	return b.Bytes()
}

// write writes the key as a comment.
func (k key) write(b *bytes.Buffer) {
	fmt.Fprintf(b, "# %s; default: %s\n# %s = %s\n", k.help, k.preset, k.name, k.exampleValue())
}

// exampleValue is the example as TOML.
func (k key) exampleValue() string {
	switch k.target(Default(), &Channel{}).(type) {
	case *bool, *int:
		return k.example
	case *[]float64:
		return `["` + k.example + `"]`
	case *float64:
		if k.unit == "" {
			return k.example
		}
	}
	return `"` + strings.TrimSpace(k.example+map[bool]string{true: " V"}[k.unit == roleUnit]) + `"`
}
