"""Addresses of the checklists, below office/checklists/."""

from django.urls import URLPattern, path

from workshop.checklists import draft_views as drafts
from workshop.checklists import import_views as importing
from workshop.checklists import step_views as steps
from workshop.checklists import views

urlpatterns: list[URLPattern] = [
    path("", views.checklists, name="checklists"),
    path("new/", drafts.new, name="checklist_new"),
    path("export/", views.export_all, name="checklists_export"),
    path("import/", importing.import_file, name="checklists_import"),
    path("import/confirm/", importing.confirm_import, name="checklists_import_confirm"),
    path("in-use/<slug:key>/", views.checklist, name="checklist"),
    path("in-use/<slug:key>/export/", views.export_one, name="checklist_export"),
    path("in-use/<slug:key>/draft/", views.begin_draft, name="draft_begin"),
    path("in-use/<slug:key>/retire/", views.retire, name="complaint_retire"),
    path("in-use/<slug:key>/offer/", views.offer_again, name="complaint_offer"),
    path("drafts/<slug:key>/", drafts.draft, name="draft"),
    path("drafts/<slug:key>/head/", drafts.head, name="draft_head"),
    path("drafts/<slug:key>/preview/", drafts.preview, name="draft_preview"),
    path("drafts/<slug:key>/use/", drafts.use, name="draft_use"),
    path("drafts/<slug:key>/drop/", drafts.drop, name="draft_drop"),
    path("drafts/<slug:key>/add/<slug:kind>/", steps.add, name="draft_step_add"),
    path("drafts/<slug:key>/steps/<slug:step>/", steps.edit, name="draft_step"),
    path("drafts/<slug:key>/steps/<slug:step>/move/", drafts.move, name="draft_move"),
    path("drafts/<slug:key>/steps/<slug:step>/retire/", steps.retire, name="draft_retire"),
]
