"""Pages and charts: what the plan and the readings say, drawn and written for screen and paper.

circuit_pictures
    wiring_sketch
colour_chart
    chromaticity_chart
data
    plan_as_dict, readings_as_dict
findings
    Findings, findings_of
job_sheet
    basis_html, job_sheet_html, save_job_sheet
job_sheet_text
    report_text
lamp_faces
    lit_faces
light_charts
    ratio_chart, through_lens_chart
reading_charts
    contributions_chart, lens_knowledge, light_before_and_after
reading_findings
    ReadingFindings, findings_of_readings
readings
    procedure_card, readings_html, readings_text
time_pictures
    flash_picture, road_picture
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
