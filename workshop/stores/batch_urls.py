"""Addresses of batches; part of the Stores."""

from django.urls import URLPattern, path

from workshop.stores import batch_views as views

urlpatterns: list[URLPattern] = [
    path("batches/", views.batches, name="batches"),
    path("batches/<key:pk>/", views.batch, name="batch"),
    path("batches/<key:pk>/open/", views.open_one, name="open_bottle"),
    path("batches/<key:pk>/count/", views.count_one, name="count_batch"),
    path("batches/<key:pk>/spilled/", views.spilled, name="batch_spilled"),
    path("batches/<key:pk>/correct/", views.correct, name="correct_batch"),
    path("<key:pk>/put-into-batch/", views.put_into, name="put_into_batch"),
]
