"""Addresses of documents."""

from django.urls import URLPattern, path

from workshop.printing import views

app_name = "documents"
urlpatterns: list[URLPattern] = [
    path("<key:number>/<str:kind>/issue/", views.issue_document, name="issue"),
    path("<key:number>/<str:kind>/<key:revision>/", views.show_pdf, name="pdf"),
]
