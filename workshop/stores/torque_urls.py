"""Addresses of the torque tools and of a ticket's bolts; part of the Stores."""

from django.urls import URLPattern, path

from workshop.stores import tool_views
from workshop.stores import torque_views as views

urlpatterns: list[URLPattern] = [
    path("torque-tools/", views.tools, name="torque_tools"),
    path("torque-tools/add/", views.add_tool, name="add_torque_tool"),
    path("torque-tools/<key:pk>/edit/", views.edit_tool, name="edit_torque_tool"),
    path("torque-tools/<key:pk>/retire/", views.retire_tool, name="retire_torque_tool"),
    path("torque-tools/<key:pk>/", tool_views.tool, name="torque_tool"),
    path("torque-tools/<key:pk>/calibrate/", tool_views.calibrate, name="calibrate_torque_tool"),
    path("torque-tools/<key:pk>/lend/", tool_views.lend_out, name="lend_torque_tool"),
    path("torque-tools/<key:pk>/back/", tool_views.give_back, name="take_back_torque_tool"),
    path("torque-tools/<key:pk>/check/", tool_views.check, name="check_torque_tool"),
    path("certificates/<key:pk>/", tool_views.certificate, name="certificate"),
    path("bolts/<key:number>/", views.bolts, name="bolts"),
    path("bolts/<key:number>/<slug:bolt>/record/", views.record, name="record_bolt"),
    path("bolts/<key:number>/<key:pk>/countersign/", views.sign, name="countersign"),
]
