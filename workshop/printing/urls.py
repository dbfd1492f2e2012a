"""Addresses of documents."""

from django.urls import URLPattern, path

from workshop.printing import label_views, views

app_name = "documents"
urlpatterns: list[URLPattern] = [
    path("labels/parts/", label_views.of_parts, name="labels_of_parts"),
    path("labels/tickets/", label_views.of_tickets, name="labels_of_tickets"),
    path("<key:number>/<str:kind>/issue/", views.issue_document, name="issue"),
    path("<key:number>/<str:kind>/<key:revision>/", views.show_pdf, name="pdf"),
]
