from gpost.write.figures import as_text as as_text
from gpost.write.figures import count_decimals as count_decimals
from gpost.write.figures import raised as raised
from gpost.write.figures import splice as splice
