"""Addresses of the torque tools and of a ticket's bolts; part of the Stores."""

from django.urls import URLPattern, path

from workshop.stores import torque_views as views

urlpatterns: list[URLPattern] = [
    path("torque-tools/", views.tools, name="torque_tools"),
    path("torque-tools/add/", views.add_tool, name="add_torque_tool"),
    path("torque-tools/<key:pk>/edit/", views.edit_tool, name="edit_torque_tool"),
    path("torque-tools/<key:pk>/retire/", views.retire_tool, name="retire_torque_tool"),
    path("bolts/<key:number>/", views.bolts, name="bolts"),
    path("bolts/<key:number>/<slug:bolt>/record/", views.record, name="record_bolt"),
    path("bolts/<key:number>/<key:pk>/countersign/", views.sign, name="countersign"),
]
