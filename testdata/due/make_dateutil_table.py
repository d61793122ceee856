"""Writes months_dateutil.csv on standard output.

For every day of 2024 to 2032: the date some months earlier or later, by
relativedelta of the dateutil library (Debian package python3-dateutil), a
general-purpose calendar library that has no part in this project.

One line for each month and offset: the month, the offset in months, the month
arrived in, and the day arrived at from day 1, 2, 3 ... of the month.

    /usr/bin/python3 make_dateutil_table.py > months_dateutil.csv
"""

import calendar
import datetime

from dateutil.relativedelta import relativedelta

print("month,offset,arrives_in,days")
for year in range(2024, 2033):
    for month in range(1, 13):
        for offset in (-2, 1, 12, 24, 60):
            days, arrives = [], set()
            for day in range(1, calendar.monthrange(year, month)[1] + 1):
                there = datetime.date(year, month, day) + relativedelta(months=offset)
                arrives.add(there.strftime("%Y-%m"))
                days.append(str(there.day))
            (only,) = arrives
            print(f"{year}-{month:02d},{offset},{only},{' '.join(days)}")
