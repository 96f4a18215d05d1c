"""What is put into good files to damage them."""

SIGNS = (*"=[]", "[[", *"{},;\"'#\n\\.-+_ \t\r0")
VALUES = ("9e99", "-1e-308", "nan", "inf", "true", "1979-05-27", '"""', "0x", "{}", "[]", "1" * 30)
LINES = ("[[hole]]\n", "[rush]\n", "[bore]\n", "a.b = 1\n", "# unit: inch\n")
WORDS = ("foot", "top", "oval", "through")
LETTERS = ("\u00e9", "\u2028", "\x00", "\x1c", "\ufeff")
BITS = SIGNS + VALUES + LINES + WORDS + LETTERS
