"""Addresses of the pages of bills, actual weather and realization; the desk's own take them in."""

from django.urls import path

from . import bill_files, bills, daily_weather, realization

urlpatterns = [
    path("jobs/<uuid:pk>/bills", bills.job_bills, name="job_bills"),
    path("jobs/<uuid:pk>/bills/open-account", bills.open_account, name="open_account"),
    path("jobs/<uuid:pk>/bills/upload-csv", bills.upload_bill_csv, name="upload_bill_csv"),
    path("jobs/<uuid:pk>/bills/upload-espi", bills.upload_bill_espi, name="upload_bill_espi"),
    path("jobs/<uuid:pk>/bills/measure", bills.ask_study, name="ask_study"),
    path("jobs/<uuid:pk>/bills/note-change", bills.note_change, name="note_change"),
    path("house-changes/<uuid:pk>/confirm", bills.confirm_change, name="confirm_change"),
    path("bill-files/<uuid:pk>", bill_files.bill_file, name="bill_file"),
    path("bill-files/<uuid:pk>/errors.csv", bill_files.bill_file_errors, name="bill_file_errors"),
    path("bill-files/<uuid:pk>/file", bill_files.bill_file_as_sent, name="bill_file_as_sent"),
    path("bill-files/<uuid:pk>/import", bill_files.import_bill_file, name="import_bill_file"),
    path("bill-files/<uuid:pk>/undo", bill_files.undo_bill_file, name="undo_bill_file"),
    path("weather", daily_weather.weather, name="weather"),
    path("weather/<uuid:pk>", daily_weather.weather_station, name="weather_station"),
    path("weather/<uuid:pk>/upload", daily_weather.upload_days, name="upload_days"),
    path("weather/<uuid:pk>/type-day", daily_weather.type_day, name="type_day"),
    path("weather-files/<uuid:pk>/undo", daily_weather.undo_days, name="undo_days"),
    path("reports/realisation", realization.realization, name="realization"),
    path("reports/realisation/table.csv", realization.realization_csv, name="realization_csv"),
    path(
        "reports/realisation/work-out",
        realization.work_out_realization,
        name="work_out_realization",
    ),
]
