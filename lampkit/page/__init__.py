"""Pages and charts: what the plan and the readings say, drawn and written for screen and paper.

colour_chart
    chromaticity_chart
job_sheet_data
    plan_as_dict
lens_chart
    lens_knowledge
light_charts
    ratio_chart, through_lens_chart
reading_charts
    contributions_chart
reading_data
    readings_as_dict
report
    job_sheet_html, report_text, save_job_sheet
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
