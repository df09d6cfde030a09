from gpost.survey.bycolumns import added_up as added_up
from gpost.survey.bycolumns import flags as flags
from gpost.survey.bycolumns import wound as wound
