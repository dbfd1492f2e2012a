"""Addresses of documents."""

from django.urls import URLPattern, path

from workshop.documents import views

app_name = "documents"
urlpatterns: list[URLPattern] = [
    path("<int:number>/<str:kind>/issue/", views.issue_document, name="issue"),
    path("<int:number>/<str:kind>/<int:revision>/", views.show_pdf, name="pdf"),
]
