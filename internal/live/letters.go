package live

import "strings"

// letterRows is how many lines a large letter takes.
const letterRows = 5

// letters are large letters of blocks, read from across a yard; our own drawing.
// Each has its five lines one after the other.
var letters = map[rune][letterRows]string{
	'A': {" ### ", "#   #", "#####", "#   #", "#   #"}, 'B': {"#### ", "#   #", "#### ", "#   #", "#### "},
	'C': {" ####", "#    ", "#    ", "#    ", " ####"}, 'D': {"#### ", "#   #", "#   #", "#   #", "#### "},
	'E': {"#####", "#    ", "###  ", "#    ", "#####"}, 'F': {"#####", "#    ", "###  ", "#    ", "#    "},
	'G': {" ####", "#    ", "#  ##", "#   #", " ####"}, 'H': {"#   #", "#   #", "#####", "#   #", "#   #"},
	'I': {"###", " # ", " # ", " # ", "###"}, 'J': {"  ###", "   # ", "   # ", "#  # ", " ##  "},
	'K': {"#   #", "#  # ", "###  ", "#  # ", "#   #"}, 'L': {"#    ", "#    ", "#    ", "#    ", "#####"},
	'M': {"#   #", "## ##", "# # #", "#   #", "#   #"}, 'N': {"#   #", "##  #", "# # #", "#  ##", "#   #"},
	'O': {" ### ", "#   #", "#   #", "#   #", " ### "}, 'P': {"#### ", "#   #", "#### ", "#    ", "#    "},
	'Q': {" ### ", "#   #", "# # #", "#  # ", " ## #"}, 'R': {"#### ", "#   #", "#### ", "#  # ", "#   #"},
	'S': {" ####", "#    ", " ### ", "    #", "#### "}, 'T': {"#####", "  #  ", "  #  ", "  #  ", "  #  "},
	'U': {"#   #", "#   #", "#   #", "#   #", " ### "}, 'V': {"#   #", "#   #", "#   #", " # # ", "  #  "},
	'W': {"#   #", "#   #", "# # #", "## ##", "#   #"}, 'X': {"#   #", " # # ", "  #  ", " # # ", "#   #"},
	'Y': {"#   #", " # # ", "  #  ", "  #  ", "  #  "}, 'Z': {"#####", "   # ", "  #  ", " #   ", "#####"},
	' ': {"   ", "   ", "   ", "   ", "   "},
}

// large writes a word in large letters; nil when a letter is not among them or
// the word is too wide.
func large(word string, width int) []string {
	var rows [letterRows]string
	for i, r := range strings.ToUpper(word) {
		glyph, ok := letters[r]
		if !ok {
			return nil
		}
		for k := range rows {
			if i > 0 {
				rows[k] += "  "
			}
			rows[k] += glyph[k]
		}
	}
	if len(rows[0]) > width {
		return nil
	}
	for k := range rows {
		rows[k] = strings.TrimRight(rows[k], " ")
	}
	return rows[:]
}
