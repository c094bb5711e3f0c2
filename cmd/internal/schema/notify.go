package schema

import "strings"

func notifyFile() *node {
	return mapping("mashward notify", "Who is told of a brew day's events, and how.",
		must("notify", &node{
			Title: "Targets", Description: "One entry for each address that is told.", Type: types{"array"}, MinItems: 1, MaxItems: 8,
			Items: toTell(),
		}))
}

func toTell() *node {
	return mapping("Target", "An address that messages are posted to.",
		must("target", line("Name", "By which it is spoken of.", 32, "phone")),
		must("url", address()),
		may("tell", &node{
			Title: "What is told", Description: "Left out: all events.", Type: types{"array"}, MinItems: 1,
			Items: words("Event", "What happened.", "", "prompt", "addition", "soon", "alarm", "trip", "cut", "held", "ended", "finish"),
		}),
		may("as", words("Form", "How the body is written; what is filled in is escaped to fit.", "text", "text", "json", "form")),
		may("body", line("Body", "With fields in braces: "+fields()+". Left out: title and text, as the form has it.", 1000, `{"message": "{text}"}`)),
		may("headers", &node{
			Title: "Headers", Description: "Further lines before the body.", Type: types{"array"}, MaxItems: 8,
			Items: &node{Title: "Header", OneOf: []*node{
				mapping("Header", "With its value here; it may have fields in braces.", must("name", headerName()), must("value", line("Value", "Sent as plain ASCII.", 1000, "{title}"))),
				mapping("Secret header", "With its value in a file of its own.", must("name", headerName()), must("file", secretFile())),
			}},
		}),
		may("timeout", figure{of: duration, title: "Timeout", about: "How long an answer is waited for.", from: "1 s", to: "1 min", without: "10 s", example: "5 s"}.node()),
		may("once", yes("Once", "Nothing is said again to this target.")))
}

func headerName() *node { return line("Name", "As RFC 9110 has it.", 200, "Title") }

func secretFile() *node {
	return line("File", "It holds the value and nothing else, and nobody but its owner may read it. Its name counts from this file.", 2000, "phone.token")
}

// address is where to post to, or the file that holds it.
func address() *node {
	here := line("Address", "Of http or https. Write it into a file of its own where a token stands in it.", 2000, "https://messages.example/brewhouse")
	here.Pattern = `https?://[^\x00-\x20\x7f]`
	here.Type = types{"string"}
	return &node{Title: "Where to", OneOf: []*node{here, mapping("In a file", "The address lies in a file of its own.", must("file", secretFile()))}}
}

// fields are those of package notice; a test compares them.
func fields() string {
	return strings.Join([]string{
		"{title}", "{text}", "{said}", "{do}", "{event}", "{id}", "{state}", "{times}", "{urgent}", "{rig}", "{profile}", "{batch}", "{step}",
		"{temperature}", "{clock}", "{time}", "{simulated}", "{line}",
	}, ", ")
}
