"""Addresses of the specs, below office/specs/."""

from django.urls import URLPattern, path

from workshop.office import specs_editing_views as editing
from workshop.office import specs_manual_views as manual
from workshop.office import specs_page_views as one_page
from workshop.office import specs_views as views

urlpatterns: list[URLPattern] = [
    path("", views.models, name="specs"),
    path("models/new/", editing.new_model, name="specs_model_new"),
    path("models/<key:pk>/", views.model, name="specs_model"),
    path("models/<key:pk>/edit/", editing.edit_model, name="specs_model_edit"),
    path("models/<key:pk>/page/", one_page.page, name="specs_page"),
    path("models/<key:pk>/blank/", one_page.blank, name="specs_blank"),
    path("models/<key:pk>/manual/", manual.manual, name="specs_manual"),
    path("manual/<key:pk>/", manual.file, name="specs_manual_file"),
    path("manual/<key:pk>/take-off/", manual.take_off, name="specs_manual_off"),
    path("models/<key:pk>/values/<slug:quantity>/", editing.value, name="specs_value"),
    path("models/<key:pk>/values/<slug:quantity>/versions/", views.versions, name="specs_versions"),
    path("models/<key:pk>/values/<slug:quantity>/withdraw/", editing.withdraw, name="specs_withdraw"),
    path("not-checked/", views.unchecked, name="specs_unchecked"),
    path("values/<key:pk>/check/", views.check, name="specs_check"),
    path("export/", views.export, name="specs_export"),
]
