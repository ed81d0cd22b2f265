"""What there is to see of a job: corners and joints as spots, paths to walk, cameras, and what hides what."""

from preview.vantage.camera import ACROSS, MARGIN, OVERHEAD, Camera, Vec3, aimed, choose_camera, frame, ranked_cameras
from preview.vantage.corners import (
    Corner,
    Job,
    JointPlace,
    Spot,
    beside,
    block_facing,
    corner_names,
    corner_side,
    corners_of,
    ends_of,
    job_of,
    joint_pieces,
    joint_places,
    listed_joints,
    on_face,
)
from preview.vantage.eyes import eyes_of, sight_of
from preview.vantage.looks import Look, looks_down, looks_of
from preview.vantage.paths import Path, joint_station, paths_of, place_step
from preview.vantage.places import directed, end_outline, in_scene, on_piece
from preview.vantage.sight import Obstacle, Sight

__all__ = [
    "ACROSS",
    "MARGIN",
    "OVERHEAD",
    "Camera",
    "Corner",
    "Job",
    "JointPlace",
    "Look",
    "Obstacle",
    "Path",
    "Sight",
    "Spot",
    "Vec3",
    "aimed",
    "beside",
    "block_facing",
    "choose_camera",
    "corner_names",
    "corner_side",
    "corners_of",
    "directed",
    "end_outline",
    "ends_of",
    "eyes_of",
    "frame",
    "in_scene",
    "job_of",
    "joint_pieces",
    "joint_places",
    "joint_station",
    "listed_joints",
    "looks_down",
    "looks_of",
    "on_face",
    "on_piece",
    "paths_of",
    "place_step",
    "ranked_cameras",
    "sight_of",
]
