"""What can go wrong, and the tests that make it go wrong. Each looks at the disk afterwards."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]

# The failure, and its tests as file::name below tests/failure, or below tests/ with a slash first.
FAILURES: dict[str, tuple[str, ...]] = {
    # What people typed or wrote before
    "a profile of theirs under the name of a new one": (
        "/unit/cli/test_cli_new_profile.py::test_a_file_that_is_there_stays",
        "/unit/cli/test_cli_new_profile.py::test_a_file_that_comes_in_between_stays",
        "/unit/cli/test_cli_new_profile.py::test_who_stops_half_way_leaves_nothing",
    ),
    "a file name that would write to a terminal by way of the log": (
        "/unit/service/test_log_words.py::test_no_name_writes_to_a_terminal",
    ),
    # Installed, upgraded, removed
    "an installation broken off, or two at a time": (
        "/unit/test_install_script.py::test_killed_half_way_and_run_again",
        "/unit/test_install_script.py::test_two_at_a_time",
    ),
    "a new version that does not run or does not start": (
        "/unit/test_install_script.py::test_from_the_first_run_to_the_second_removal",
        "test_under_systemd.py::test_a_film_an_upgrade_and_a_removal",
    ),
    "a folder of somebody else where filmhand is to be installed": (
        "/unit/test_install_script.py::test_a_folder_of_somebody_else_is_left_alone",
    ),
    "the watcher for lp killed, started twice, or its command failing": (
        "/unit/test_print_by_lp.py::test_after_a_crash_nothing_is_printed_twice_and_it_is_said",
        "/unit/test_print_by_lp.py::test_two_at_a_time_print_each_film_once",
        "/outside/test_print_server.py::test_the_watcher_says_what_the_server_did_not_take",
    ),
    # Scans of wedges, and what was read of them
    "killed, or taken over by another host, in the middle of reading a scan": (
        "test_scans_of_wedges.py::test_killed_at_a_step_and_started_again",
        "test_scans_of_wedges.py::test_another_host_takes_over_a_reading_in_the_middle",
    ),
    "the name of a reading taken by somebody else": (
        "test_scans_of_wedges.py::test_a_name_that_somebody_takes_gets_another_number",
    ),
    "a curve spoiled by hand, or a link in its place": (
        "/unit/service/test_kept_curves.py::test_a_spoiled_reading_keeps_the_profile_as_it_was",
        "/unit/service/test_kept_curves.py::test_a_link_in_place_of_a_reading_is_not_followed",
    ),
    # Killed, stopped, started twice
    "killed at each step": ("test_spool_killed.py::test_killed_at_a_step_and_started_again",),
    "killed twice at each step": (
        "test_spool_killed.py::test_killed_at_a_step_and_started_again",
        "test_spool_retry.py::test_killed_and_tried_once_more",
    ),
    "killed at random, two hosts": (
        "test_spool_trouble.py::test_random_kills_of_two_hosts",
        "test_soak.py::test_two_hosts_under_fire_lose_double_and_break_nothing",
    ),
    "asleep at each step while another takes over": (
        "test_hosts_stopped.py::test_asleep_at_a_step_adopted_and_awake_again",
        "test_spool_trouble.py::test_a_silent_host_is_adopted_and_drops_the_work_when_it_wakes",
    ),
    "a host dead for good": (
        "test_spool_killed.py::test_killed_at_a_step_and_adopted_by_another_host",
        "test_service_station.py::test_a_killed_service_goes_on_where_it_was",
    ),
    "the one who takes over killed": (
        "test_hosts_stopped.py::test_the_one_who_takes_over_is_killed_too",
        "test_hosts_stopped.py::test_killed_in_the_middle_of_taking_over",
    ),
    "two hosts that choose one name": (
        "test_moves_half_done.py::test_two_hosts_that_choose_one_name_at_the_same_moment",
        "test_share_hostile.py::test_two_services_that_want_the_same_names",
    ),
    "taken over and given back while its sleeper wakes": (
        "test_hosts_stopped.py::test_a_job_that_comes_back_while_its_sleeper_still_has_it_in_hand",
        "test_spool_gang.py::test_a_member_let_go_just_before_another_host_takes_the_gang",
    ),
    "two services on one station": (
        "test_spool_trouble.py::test_two_hosts_make_each_file_once",
        "test_share_hostile.py::test_two_services_on_a_share",
    ),
    "the same service started twice": (
        "test_service_station.py::test_a_second_service_and_once_end_with_75",
    ),
    "told to end during a job": (
        "test_service_station.py::test_sigterm_finishes_the_job_in_hand",
        "test_service_unattended.py::test_a_second_signal_stops_at_once",
    ),
    "state forged by whoever can write in the folder": (
        "test_state_forged.py::test_forged_notes_reach_nothing_outside_and_are_set_aside",
        "test_state_forged.py::test_a_link_in_a_jobs_folder_is_not_followed",
        "test_state_forged.py::test_a_member_that_is_there_twice_is_set_aside",
        "/fuzz/test_forged_state.py::test_nothing_outside_changes_and_sound_work_is_done",
        "/unit/disk/test_beneath.py::test_a_log_is_never_appended_to_through_something_else",
    ),
    "folders exchanged for links at work": (
        "test_state_forged.py::test_folders_exchanged_for_links_while_the_service_works",
        "/unit/disk/test_beneath.py::test_a_folder_exchanged_for_a_link_all_the_time_never_leads_out",
    ),
    "one bad entry among jobs in hand": (
        "test_state_forged.py::test_one_bad_entry_stops_no_other",
    ),
    "killed on the way to the printer": (
        "test_print_killed.py::test_killed_at_a_step_of_printing",
        "test_print_killed.py::test_killed_at_a_step_of_printing_and_taken_over",
        "test_print_trouble.py::test_asleep_at_a_step_while_another_host_takes_over",
        "test_print_trouble.py::test_killed_at_a_step_with_printers_of_every_kind",
    ),
    "a set of films killed in the middle, or older work and other films beside it": (
        "test_set_killed.py::test_a_set_appears_whole_and_nothing_comes_between",
        "test_set_killed.py::test_a_half_published_set_is_completed_before_older_jobs",
        "test_set_killed.py::test_no_other_film_is_published_while_a_set_is",
        "test_set_killed.py::test_each_sheet_of_a_set_is_printed_once_and_in_one_run",
        "test_set_killed.py::test_a_set_is_held_and_approved_as_one",
        "test_set_printed.py::test_an_older_film_that_comes_late_waits_for_the_end_of_the_run",
    ),
    "a printer's address that is none, or leads nowhere": (
        "/unit/printer/test_printer_faults.py::test_what_is_no_address",
        "/unit/printer/test_printer_faults.py::test_nobody_listens",
        "/unit/printer/test_printer_faults.py::test_nobody_of_that_name",
        "/unit/printer/test_printer_faults.py::test_answers_of_http",
    ),
    "a printer that answers garbage, or half an answer": (
        "/unit/printer/test_message.py::test_what_is_no_message",
        "/unit/printer/test_message.py::test_spoiled_bytes_are_read_or_refused",
        "/unit/printer/test_message.py::test_every_beginning_of_a_message_is_told_from_all_of_it",
        "/unit/printer/test_printer_faults.py::test_answers_that_are_none",
        "/unit/printer/test_printer_faults.py::test_half_an_answer_in_chunks",
    ),
    "a printer that answers for ever, or hangs": (
        "/unit/printer/test_message.py::test_four_megabytes_of_nothing_take_little",
        "/unit/printer/test_printer_faults.py::test_four_gigabytes_are_not_taken",
        "/unit/printer/test_printer_faults.py::test_a_byte_now_and_then_is_no_answer",
        "/unit/printer/test_printer_faults.py::test_a_printer_that_hangs",
        "/unit/printer/test_printer_faults.py::test_a_printer_that_stops_taking_the_document",
    ),
    "out of film in the middle of a document": (
        "test_print_trouble.py::test_out_of_film_in_the_middle_of_a_document",
        "/unit/printer/test_printer_faults.py::"
        "test_a_printer_that_waits_for_film_in_the_middle_of_a_document",
        "/unit/printer/test_printer_faults.py::test_a_job_that_ends_in_the_middle_of_its_document",
    ),
    "a printer's certificate that is unknown or has changed": (
        "/unit/printer/test_printer_faults.py::test_a_certificate_that_nobody_vouches_for",
        "/unit/printer/test_printer_faults.py::test_a_certificate_that_has_changed",
        "/unit/printer/test_printer_faults.py::test_tls_where_there_is_none",
        "/unit/printer/test_printer_faults.py::test_no_tls_where_there_is_some",
    ),
    "a printer that lies about what it can do": (
        "/unit/printer/test_printer_faults.py::test_a_printer_that_takes_a_job_without_what_it_lists",
        "/unit/printer/test_printer_faults.py::test_what_a_printer_tells_of_itself_may_be_nonsense",
    ),
    "a film that its printer cannot print as it is": (
        "/outside/test_printer_simulator.py::test_what_it_cannot_print_is_told_before_anything_is_sent",
        "/unit/printer/test_choice.py::test_a_sheet_that_the_printer_does_not_take",
        "/unit/printer/test_choice.py::test_margins_that_the_printer_needs",
        "/unit/printer/test_choice.py::test_a_printer_that_takes_no_bits_as_they_are",
    ),
    "a printer that forgets its jobs": (
        "test_print_trouble.py::test_a_printer_that_forgets",
        "test_print_service.py::test_a_printer_that_lost_its_memory_makes_a_film_doubtful",
    ),
    "a printer off, busy, jammed, or with another sheet in its tray": (
        "test_print_service.py::test_a_printer_that_is_off_holds_up_nothing_but_itself",
        "test_print_trouble.py::test_a_busy_printer_is_asked_ever_more_seldom",
        "test_print_trouble.py::test_a_jam_stops_the_next",
        "test_print_trouble.py::test_another_sheet_in_the_tray_holds_only_what_needs_it",
    ),
    "a film canceled at the printer's panel, or given up by the printer": (
        "test_print_service.py::test_canceled_at_the_panel_is_told_and_not_printed_again",
        "test_print_trouble.py::test_an_empty_job_canceled_at_the_panel",
        "test_print_service.py::test_a_doubtful_film_given_up",
    ),
    "told to end while a film is at the printer": (
        "test_print_service.py::test_told_to_stop_while_it_prints_and_started_again",
    ),
    "no room for a printer's number": (
        "test_print_trouble.py::test_no_room_for_the_number",
        "test_print_trouble.py::test_a_full_disk_from_a_step_on",
    ),
    "documents for the printer spoiled on the disk": (
        "test_print_trouble.py::test_a_document_that_the_disk_spoiled_is_not_printed",
    ),
    "art that changed after its film was printed": (
        "test_print_trouble.py::test_art_that_changed_is_printed_of_its_whole_form_only",
        "test_print_trouble.py::test_art_that_changed_after_it_was_printed_is_printed_again_and_told",
        "test_print_trouble.py::test_killed_while_an_order_is_taken_back",
    ),
    "print orders forged": (
        "test_print_trouble.py::test_forged_orders_hold_up_nobody",
        "test_print_trouble.py::test_a_log_that_is_a_link_is_not_written_through",
    ),
    "thousands of films that wait for one printer": (
        "test_print_trouble.py::test_many_that_wait_cost_the_next_one_little",
    ),
    "a clock that jumps while films wait for the printer": (
        "test_print_trouble.py::test_a_clock_that_jumps",
    ),
    "state folder deleted": (
        "test_service_station.py::test_jobs_of_a_lost_state_folder_are_adopted_at_once",
        "test_service_station.py::test_the_state_folder_deleted_under_a_running_service",
    ),
    "state folder gone where many jobs were finished": (
        "test_state_lost.py::test_the_first_film_comes_before_the_last_job_is_known",
        "test_state_lost.py::test_the_newest_jobs_are_known_first",
        "test_state_lost.py::test_art_that_was_made_before_under_its_name_is_known_at_once",
        "test_state_lost.py::test_a_record_says_that_an_earlier_film_may_not_be_known_yet",
        "test_state_lost.py::test_nothing_is_tidied_away_before_the_ledger_is_whole",
        "test_state_lost.py::test_history_answers_while_the_ledger_is_read_in",
        "test_state_lost.py::test_history_without_any_ledger_reads_the_records",
    ),
    "killed while the ledger is read in": (
        "test_state_lost.py::"
        "test_a_service_without_state_makes_and_learns_and_goes_on_after_a_kill",
        "/unit/jobs/test_refill.py::test_after_a_kill_only_the_rest_is_read",
    ),
    # Films that wait
    "a held film killed, adopted or asleep at each step": (
        "test_held_killed.py::test_killed_at_a_step_and_started_again",
        "test_held_killed.py::test_killed_at_a_step_and_adopted_by_another_host",
        "test_held_killed.py::test_a_shared_sheet_killed_at_a_step",
        "test_held_films.py::test_held_films_of_a_silent_host_are_taken_over",
    ),
    "a proof that is removed, copied, changed or not filmhand's": (
        "test_held_films.py::test_a_removed_proof_is_made_again_and_releases_nothing",
        "test_held_films.py::test_what_else_lies_in_release_is_left_alone_and_named",
        "test_held_films.py::test_a_copy_of_the_proof_and_one_that_was_changed_when_it_was_moved",
        "test_held_films.py::test_a_name_that_is_taken_in_held_is_never_replaced",
    ),
    "two held films of one name": ("test_held_films.py::test_two_of_one_name_are_told_apart",),
    "art that changes while its film is held": (
        "test_held_films.py::test_art_that_changes_while_it_is_held_is_made_again_and_held_again",
    ),
    "a full disk while films are held or counted": (
        "test_disk_full.py::test_full_from_a_step_of_counting_sheets_on_pauses_and_heals",
        "test_disk_full.py::test_full_from_a_step_of_holding_on_pauses_and_heals",
    ),
    "hundreds of held films": (
        "test_held_films.py::test_hundreds_of_held_films_are_not_met_at_each_look",
    ),
    "sheets counted twice or lost": (
        "test_held_killed.py::test_a_budget_over_midnight_counts_each_sheet_once",
        "test_held_films.py::test_a_clock_that_jumps_over_midnight_and_back_frees_nothing_twice",
    ),
    "a budget passed by threads or hosts at one moment": (
        "test_held_films.py::test_many_threads_never_pass_the_budget",
        "test_held_films.py::test_two_hosts_share_one_budget",
        "/unit/jobs/test_sheets.py::test_two_hosts_that_count_at_one_moment_never_pass_the_budget",
    ),
    # Several drops on one sheet
    "a gang killed, adopted or asleep at each step": (
        "test_spool_gang_killed.py::test_killed_at_a_step_and_started_again",
        "test_spool_gang_killed.py::test_killed_at_a_later_time_and_again",
        "test_spool_gang_killed.py::test_killed_at_a_step_and_adopted_by_another_host",
        "test_spool_gang_killed.py::test_asleep_at_a_step_adopted_and_awake_again",
        "test_spool_gang_killed.py::test_two_hosts_take_from_one_folder",
    ),
    "one of a gang is refused or harms its worker": (
        "test_spool_gang.py::test_one_refused_among_three",
        "test_spool_gang.py::test_the_one_that_harms_its_worker_is_found_and_the_others_are_made",
    ),
    "a gang on a full disk": (
        "test_disk_full.py::test_full_from_a_step_of_a_gang_on_pauses_and_heals",
    ),
    "the notes of a gang lost": (
        "test_spool_gang.py::test_a_gang_that_lost_its_notes_loses_no_art",
    ),
    # What the press makes of a film
    "one press told in two ways, as a number and as measured pairs": (
        "/unit/pipeline/test_press_curve.py::"
        "test_a_number_and_the_pairs_of_its_press_give_the_same_film",
        "/unit/pipeline/test_press_curve.py::"
        "test_a_press_that_adds_takes_the_film_down_however_it_is_said",
        "/outside/test_finished_films.py::"
        "test_a_press_that_adds_20_points_is_undone_whichever_way_it_is_told",
    ),
    "a print that is expected worse than by no model": (
        "/outside/test_predicted_print.py::"
        "test_each_published_press_curve_is_met_better_than_by_no_model",
    ),
    "measured pairs from the time when they meant luminance": (
        "/unit/pipeline/test_press_curve.py::test_a_measured_press_without_an_aim_is_told_of",
    ),
    # Files that are still arriving
    "slow copy": ("test_spool_drops.py::test_a_slow_writer_is_waited_for",),
    "copy that pauses with the file open": (
        "/unit/intake/test_settle.py::test_a_pause_with_the_file_open_is_not_the_end",
        "test_spool_drops.py::test_changed_while_it_is_read",
    ),
    "opened and closed again and again": (
        "test_drops_arriving.py::"
        "test_a_scanner_that_opens_and_closes_again_and_again_makes_one_job",
    ),
    "full size first, bytes later": (
        "/unit/intake/test_settle.py::test_a_reserved_end_that_was_never_written",
        "test_drops_arriving.py::"
        "test_a_copy_that_has_its_full_size_first_and_its_old_time_is_waited_for",
    ),
    "full size first, its old time put back": (
        "test_drops_arriving.py::"
        "test_a_copy_that_has_its_full_size_first_and_its_old_time_is_waited_for",
        "test_clock_jumps.py::"
        "test_a_file_that_is_still_written_under_a_time_of_the_past_is_waited_for",
    ),
    "written under another name, then renamed": (
        "test_spool_drops.py::test_written_under_another_name_and_renamed",
    ),
    "empty placeholder, filled later": (
        "/unit/intake/test_settle.py::test_a_placeholder_that_is_filled_later",
    ),
    "empty for ever": (
        "test_spool_drops.py::test_empty_and_cut_files_are_refused_after_the_wait",
        "test_service_station.py::test_once_waits_for_what_is_not_yet_settled",
    ),
    "there before the service, one still growing": (
        "test_drops_arriving.py::test_files_there_at_the_start_settle_like_any_other",
    ),
    "the same name again during the job": ("test_spool_drops.py::test_the_same_name_in_turn",),
    "the same art again": (
        "test_drops_arriving.py::test_the_same_art_under_another_name_is_made_again_and_says_so",
    ),
    "written on after it was taken, unseen by the system": (
        "test_art_changed.py::test_a_film_of_half_a_file_is_withdrawn_and_made_of_the_whole",
        "test_art_changed.py::test_while_it_goes_on_changing_it_waits_and_holds_up_nobody",
        "test_art_changed.py::test_a_film_that_a_print_queue_took_is_told_of",
        "test_art_changed.py::test_what_visibly_changes_before_any_film_is_out_leaves_no_film",
        "test_art_changed.py::test_a_ticket_that_changed_makes_it_again",
        "test_art_changed.py::test_a_time_alone_is_no_change",
        "test_art_changed.py::test_art_of_a_gang_that_changed_later_is_made_alone",
        "test_art_changed.py::test_killed_at_a_step_of_it",
        "test_art_changed.py::test_killed_at_a_step_of_it_and_adopted_by_another_host",
    ),
    "written on after it was refused": (
        "test_art_changed.py::test_refused_art_that_changed_is_judged_again",
        "test_art_changed.py::test_the_log_of_refusals_has_the_hash_of_what_was_put_away",
    ),
    "a writer that this user or system cannot see": (
        "/unit/intake/test_settle.py::"
        "test_where_no_writer_can_be_seen_art_rests_three_times_as_long",
        "/unit/intake/test_settle.py::test_on_a_share_the_settle_time_is_that_of_shares",
        "/unit/intake/test_settle.py::test_the_power_to_see_all_writers",
    ),
    "a copy over a slow line that pauses": (
        "/unit/intake/test_settle.py::test_how_long_a_copy_that_broke_off_is_waited_for",
    ),
    "exchanged at the last moment": ("test_spool_drops.py::test_replaced_at_the_last_moment",),
    # Events and folders
    "events lost": ("test_events_lost.py::test_all_files_are_found_though_every_event_is_lost",),
    "watching that is deaf, dead or not whole": (
        "test_events_lost.py::test_a_watch_counts_as_working_only_when_it_has_heard_a_knock",
        "test_events_lost.py::test_a_dead_thread_is_replaced",
        "test_events_lost.py::"
        "test_where_the_system_gives_no_more_watches_nothing_counts_as_working",
        "test_events_lost.py::test_lost_events_are_taken_for_news_of_every_folder",
        "test_events_lost.py::test_folders_that_nothing_tells_of_are_looked_at_all_the_time",
        "test_events_lost.py::test_shares_are_looked_at_at_a_steady_pace",
    ),
    "another folder at the same place": (
        "test_events_lost.py::test_a_folder_exchanged_for_another_is_not_taken_for_it",
        "test_events_lost.py::test_a_disk_taken_away_and_mounted_again_is_watched_again",
    ),
    "a sub-folder filled before it is watched": (
        "test_events_lost.py::test_a_sub_folder_made_later_is_watched_and_looked_at_once_more",
    ),
    "idle work of fifty profiles": (
        "test_events_lost.py::test_folders_at_rest_are_seldom_looked_at",
        "test_events_lost.py::test_threads_do_not_grow_with_the_folders_but_with_those_that_hang",
        "test_events_lost.py::test_noise_is_no_news",
    ),
    "folder deleted and made again": (
        "test_events_lost.py::test_a_profile_folder_deleted_under_the_service_is_made_again",
        "test_events_lost.py::test_a_folder_made_again_is_watched_again",
        "test_events_lost.py::"
        "test_a_folder_elsewhere_deleted_and_made_again_waits_until_it_is_prepared",
    ),
    "output folder inside a drop folder": (
        "test_service_doctor.py::test_an_output_folder_inside_a_drop_folder_is_refused",
    ),
    # Shares
    "share unmounted": (
        "test_share_hostile.py::test_a_share_that_goes_away_under_the_service_and_comes_back",
        "test_spool_trouble.py::test_a_share_that_goes_and_comes_back",
    ),
    "share comes back": (
        "test_share_hostile.py::test_a_share_that_goes_away_under_the_service_and_comes_back",
    ),
    "share hangs": (
        "test_share_hostile.py::test_a_share_that_hangs_holds_up_nobody_else",
        "test_service_unattended.py::"
        "test_a_share_that_hangs_stops_neither_the_others_nor_the_watchdog",
        "test_service_unattended.py::test_work_that_hangs_on_a_share_is_replaced",
    ),
    "bursts of stale, broken and lost connections": (
        "test_share_hostile.py::test_a_burst_of_errors_at_each_operation_counts_against_no_file",
        "test_share_hostile.py::test_every_fifth_operation_fails",
        "test_spool_trouble.py::test_a_disk_that_fails_anywhere_pauses_and_heals",
    ),
    "rename done, error answered": (
        "test_share_hostile.py::test_a_rename_that_happened_though_it_says_it_failed",
    ),
    "no links, no renaming that keeps": (
        "test_share_hostile.py::test_a_share_without_links_and_without_renaming_that_keeps",
        "test_moves_half_done.py::test_a_place_held_by_another_job_is_taken_by_nobody_else",
    ),
    "linked, and the old name still there": (
        "test_share_hostile.py::test_a_film_that_is_out_under_its_name_is_not_published_again",
        "test_moves_half_done.py::test_a_film_with_both_names_loses_the_old_one",
    ),
    "file busy at the claim": (
        "test_share_hostile.py::test_a_file_that_is_busy_at_the_claim_waits_and_is_then_taken",
    ),
    "fsync fails": (
        "test_share_hostile.py::test_what_could_not_be_made_durable_is_written_anew",
        "test_share_hostile.py::test_while_nothing_can_be_made_durable_nothing_is_published",
    ),
    "log flood": (
        "test_share_hostile.py::test_a_share_that_is_down_for_long_does_not_flood_the_log",
        "test_service_station.py::test_a_pause_says_little_and_heals",
    ),
    "art dropped through a real Samba server": (
        "test_samba.py::test_art_of_several_ways_of_copying_is_made_once",
        "test_samba.py::test_a_film_is_read_and_taken_through_the_share",
        "test_samba.py::test_a_copy_that_breaks_off_is_not_taken_and_comes_again",
        "test_samba.py::test_renamed_and_removed_while_it_settles",
        "test_samba.py::test_a_ticket_and_a_mask_whose_names_differ_in_case",
        "test_samba.py::test_a_name_that_differs_in_case_is_the_same_file_to_samba",
        "test_samba.py::test_files_open_with_oplocks",
        "test_samba.py::test_a_file_that_other_programs_keep_to_themselves_is_taken",
    ),
    # A cluster
    "scheduler not there, gone, back again": (
        "test_cluster.py::test_the_scheduler_goes_and_comes_back",
    ),
    "a cluster that asks for certificates": (
        "test_cluster_tls.py::test_certificates_of_dasks_configuration_open_the_cluster",
        "test_cluster_tls.py::test_without_a_certificate_it_stays_shut",
    ),
    "dask worker killed": (
        "test_cluster.py::test_a_dask_worker_killed_in_a_job",
        "test_cluster.py::test_art_during_which_all_dask_workers_die",
        "test_cluster_task.py::"
        "test_a_dask_worker_that_is_ended_with_all_its_processes_is_no_strike",
    ),
    "a host of a cluster stopped, killed or asleep": (
        "test_cluster.py::test_a_host_that_is_stopped_at_once_killed_and_taken_over",
        "test_cluster.py::test_a_host_that_sleeps_through_the_takeover_publishes_nothing",
        "test_cluster_task.py::test_a_job_whose_folder_is_taken_away_ends",
    ),
    "another version, no share, no rights on the cluster": (
        "test_cluster_task.py::test_trouble_of_a_computer_is_nobodys_fault",
        "test_cluster_task.py::test_films_that_do_not_arrive_whole_are_not_taken",
    ),
    "art that kills its process on the cluster": (
        "test_cluster.py::test_jobs_are_made_several_at_once",
    ),
    # Disks, rights, clocks
    "disk full at each step": ("test_disk_full.py::test_full_from_a_step_on_pauses_and_heals",),
    "disk full in the middle of a line of the refusal log": (
        "test_disk_full.py::test_a_line_of_the_log_that_is_cut_off_is_written_again",
        "/unit/disk/test_atomic.py::test_append_beside_another_thread_whose_line_breaks_off",
    ),
    "a share that comes and goes for hours": (
        "/unit/queue/test_folder_trouble.py::test_a_share_that_comes_and_goes_for_hours",
    ),
    "disk full inside the encoder": (
        "test_disk_full.py::test_full_while_a_film_is_encoded_is_nobodys_fault",
        "test_disk_full.py::test_files_that_may_not_grow_while_a_film_is_encoded",
        "test_service_worker.py::test_no_space_is_nobodys_fault",
    ),
    "disk may only be read": (
        "test_disk_full.py::test_a_share_that_may_only_be_read_pauses_and_goes_on",
    ),
    "one file that may not be read or moved": (
        "test_waits_by_itself.py::test_a_thousand_sound_drops_behind_twenty_that_cannot_be_read",
        "test_waits_by_itself.py::test_it_is_tried_less_and_less_often_and_refused_after_a_day",
        "test_waits_by_itself.py::test_one_file_that_cannot_be_claimed",
        "test_waits_by_itself.py::test_art_that_cannot_be_put_away_waits_and_its_film_is_made_once",
        "test_waits_by_itself.py::test_a_folder_that_cannot_be_written_pauses_all",
    ),
    "a job in hand that may not be read": (
        "test_waits_by_itself.py::test_jobs_in_hand_that_cannot_be_read_hold_up_nobody",
        "test_waits_by_itself.py::test_notes_of_a_job_that_cannot_be_read_hold_up_nobody",
        "test_waits_by_itself.py::test_of_a_gang_only_the_one_that_cannot_be_read_waits",
    ),
    "rights lost": (
        "test_rights_lost.py::test_a_folder_that_may_not_be_written_pauses_and_goes_on",
        "test_rights_lost.py::test_a_drop_folder_that_may_not_be_read_pauses_and_goes_on",
    ),
    "art that may not be moved": (
        "test_rights_lost.py::test_art_that_may_not_be_moved_is_left_where_it_is_and_said",
    ),
    "clock jumps": (
        "test_clock_jumps.py::test_the_computers_clock_jumps_by_days",
        "test_clock_jumps.py::test_files_from_the_future_and_the_past_settle_like_any_other",
        "test_clock_jumps.py::test_settling_goes_by_the_steady_clock",
        "test_clock_jumps.py::test_company_is_waited_for_by_the_steady_clock",
        "test_clock_jumps.py::test_no_host_is_taken_for_dead_by_the_wall_clock",
        "test_clock_jumps.py::test_a_day_of_waiting_is_one_of_the_steady_clock",
        "test_clock_jumps.py::test_jobs_taken_before_and_after_a_jump_are_told_apart_and_ended",
        "test_clock_jumps.py::test_nothing_else_looks_at_the_wall_clock",
        "/unit/queue/test_retention.py::test_a_clock_that_jumps_is_not_believed_for_a_day",
        "/unit/queue/test_retention.py::test_what_a_host_made_whose_clock_lay_behind_is_not_old",
    ),
    "ledger spoiled, locked, on a full disk": (
        "test_service_station.py::test_a_spoiled_ledger_is_made_anew",
        "/unit/jobs/test_ledger.py::test_a_locked_or_closed_ledger_stops_nothing",
        "test_disk_full.py::test_full_from_a_step_on_pauses_and_heals",
    ),
    "signals of other programs": (
        "test_service_unattended.py::test_signals_that_other_programs_send_end_nothing",
    ),
    "a service that has more rights than it needs": (
        "/unit/test_deploy.py::test_the_unit_is_shut_in",
        "/unit/test_deploy.py::test_addresses_nearby_are_all_that_the_unit_allows",
        "/unit/test_deploy.py::test_the_container_is_run_with_no_more_than_it_needs",
    ),
    "nobody listens to the log": (
        "test_service_station.py::test_a_closed_stderr_does_not_stop_it",
    ),
    # Hostile art
    "art that makes its worker crash, swell, spin or sleep": (
        "test_service_worker.py::test_deaths_say_how",
        "test_service_worker.py::test_one_that_sleeps_is_ended",
        "test_service_worker.py::test_one_that_spins_is_ended",
        "test_service_worker.py::test_too_much_memory_is_a_refusal",
        "test_spool_trouble.py::test_three_strikes",
    ),
    "the service dies again and again over one file": (
        "test_spool_trouble.py::test_the_services_own_death_is_no_strike",
    ),
    "art that takes its worker over": (
        "test_sandbox.py::test_no_file_but_the_jobs_own_can_be_reached",
        "test_sandbox.py::test_nothing_but_files_and_folders_can_be_left_in_the_jobs_own",
        "test_sandbox.py::test_no_network_no_program_and_no_other_process",
        "test_sandbox.py::test_tiles_of_other_jobs_can_be_read_only",
        "test_sandbox.py::test_older_kernels_bind_what_they_can",
    ),
    "bombs": (
        "test_drops_arriving.py::test_a_bomb_is_too_big_for_a_worker_that_stays_small",
        "test_bad_art.py::test_text_bomb_in_a_png_does_no_harm",
    ),
    "cut off, zeroed, flipped, spliced": (
        "test_bad_art.py::test_every_truncation_is_damaged",
        "test_bad_art.py::test_a_second_half_of_zeros_is_damaged",
        "/fuzz/test_fuzz.py::test_a_film_or_a_refusal_with_its_reason",
        "/fuzz/test_fuzz.py::test_a_kept_file_does_no_harm",
    ),
    "no art at all": ("test_bad_art.py::test_what_is_no_picture",),
    "more pixels than there is memory for at once": (
        "test_large_art.py::test_strips_give_what_the_whole_gives",
        "test_large_art.py::test_a_large_progressive_jpeg_is_read_smaller_and_told",
        "test_large_art.py::test_what_has_no_room_is_told_with_numbers_that_help",
        "test_large_art.py::test_color_that_has_no_room_at_once_becomes_a_film",
    ),
    "pages that are blank or broken": (
        "test_pages_left_out.py::test_a_blank_page_is_left_out_and_named",
        "test_pages_left_out.py::test_a_broken_page_is_left_out",
        "test_pages_left_out.py::"
        "test_where_no_page_gives_a_film_the_document_is_refused_by_its_first",
        "test_pages_left_out.py::test_a_record_read_back_tells_of_them",
    ),
    "animations that break off": (
        "test_art_odd_files.py::test_of_an_animation_that_breaks_off_the_first_frame_is_used",
        "test_art_odd_files.py::test_an_animation_without_a_whole_frame_is_damaged",
    ),
    "ten thousand frames": ("test_art_odd_files.py::test_ten_thousand_frames_are_one_picture",),
    "stray bytes in sound art": (
        "test_art_odd_files.py::test_stray_bytes_before_any_marker_of_a_jpeg_are_passed_over",
        "test_art_odd_files.py::test_junk_behind_the_end_does_no_harm",
    ),
    "wrong sums and codes that decoders pass over": (
        "test_art_damaged.py::test_a_wrong_sum_over_right_pixels_is_told_and_no_more",
        "test_art_damaged.py::test_wrong_pixels_under_a_wrong_sum_are_refused_with_their_place",
        "test_art_damaged.py::test_a_woven_png_with_wrong_pixels_is_refused_without_a_place",
        "test_art_damaged.py::test_wrong_codes_in_few_rows_are_told_with_their_place",
        "test_art_damaged.py::test_wrong_codes_in_many_rows_are_refused",
        "test_art_damaged.py::test_wrong_codes_of_which_the_decoder_warns_are_refused",
        "test_art_damaged.py::test_a_missing_restart_mark_is_refused",
    ),
    "broken parts beside sound pixels": (
        "test_art_damaged.py::test_a_broken_note_within_a_png_is_left_out",
        "test_art_damaged.py::test_bytes_that_fill_up_the_end_are_no_damage",
        "test_art_odd_files.py::test_frames_of_a_png_that_contradict_themselves_do_not_matter",
        "test_art_odd_files.py::test_a_strip_that_counts_too_much_is_read_as_far_as_it_goes",
    ),
    "two kinds in one file": (
        "test_art_odd_files.py::test_two_kinds_in_one_are_what_they_begin_with",
        "test_art_odd_files.py::test_a_valid_head_with_anothers_body_is_a_film_or_damaged",
    ),
    "sizes that disagree with the data": (
        "test_art_odd_files.py::test_sizes_that_disagree_with_the_data",
        "test_art_odd_files.py::test_pictures_that_promise_too_many_pixels_are_told_so",
    ),
    "a sentence for another fault": (
        "test_art_odd_files.py::test_the_three_sentences_are_never_mixed",
        "test_art_odd_files.py::"
        "test_what_a_decoder_knows_but_does_not_support_is_not_called_damaged",
        "/outside/test_art_formats.py::"
        "test_kinds_that_are_not_read_are_neither_broken_nor_no_picture",
    ),
    # A verdict that would let a bad film pass
    "bands that all see passed, or warned of though nobody sees them": (
        "test_verdict_moire.py::test_strength_and_period_decide_together",
        "test_verdict_moire.py::test_the_film_decides_and_not_the_profile_alone",
        "test_verdict_moire.py::test_no_band_is_longer_than_the_art",
        "/outside/test_moire_drawn.py::"
        "test_the_bands_that_are_seen_most_in_a_drawing_are_those_told",
    ),
    "an offer worse than what it replaces": (
        "/unit/pipeline/test_profile_report.py::test_no_offer_is_worse_than_what_it_replaces",
        "/unit/mesh/test_alternatives.py::"
        "test_choices_are_seen_clearly_less_and_the_least_seen_first",
    ),
    "warnings so frequent that nobody reads them": (
        "/outside/test_moire_drawn.py::test_what_72_ordinary_set_ups_say_agrees_with_the_handbooks",
        "test_verdict_moire.py::test_no_profile_that_comes_along_warns",
    ),
    "a rounded figure that contradicts its limit": (
        "/unit/mesh/test_figures.py::test_rounded_figures_compare_as_those_measured",
        "/unit/pipeline/test_verdict_words.py::test_a_check_in_a_sentence_and_on_a_label",
    ),
    "a mesh of which only a count is given, or a count that is no mesh": (
        "/unit/mesh/test_table.py::test_a_count_that_may_be_either_is_the_inch_label_and_the_other_is_told",
        "/unit/mesh/test_table.py::test_the_threads_of_a_count_are_told_with_what_each_holds",
        "/unit/mesh/test_table.py::test_an_unknown_count_names_its_neighbors",
        "/unit/mesh/test_table.py::test_two_names_of_different_meshes_are_refused",
        "/unit/cli/test_mesh_names.py::test_a_film_its_record_and_what_the_commands_tell",
    ),
    "a mesh offered that no shop has": (
        "/unit/pipeline/test_verdict_words.py::test_finer_meshes_come_from_the_coarsest_on_and_those_in_stock_first",
    ),
    "hairlines that much solid beside them hides": (
        "test_verdict_thin.py::test_hairlines_beside_a_large_solid_warn_and_are_shown",
        "test_verdict_thin.py::test_lines_that_the_mesh_prints_unevenly_beside_a_large_solid_warn",
        "test_verdict_thin.py::test_a_thin_rule_inside_a_picture_warns",
        "test_verdict_thin.py::test_measure_tells_of_them_too",
        "/outside/test_thin_pieces_outside.py::"
        "test_a_hairline_beside_a_solid_is_found_as_long_and_wide_as_its_skeleton",
        "/outside/test_thin_pieces_outside.py::test_corners_points_and_dots_are_no_strokes",
    ),
    "dots that mending hides though they were to be left alone": (
        "test_verdict_thin.py::"
        "test_a_film_that_mending_would_have_made_pass_is_refused_under_hold_off",
    ),
    "names that attack": (
        "test_spool_drops.py::test_odd_names_keep_their_bytes",
        "test_spool_drops.py::test_a_name_of_255_bytes_is_refused_with_a_note",
        "/unit/jobs/test_put_away.py::test_refused_art_never_takes_the_name_of_a_log",
        "/unit/service/test_service_log.py::"
        "test_people_at_a_terminal_read_lines_and_the_file_keeps_json",
        "test_service_station.py::test_the_page_tells_the_same",
    ),
    "names that differ in case or composition": (
        "test_spool_drops.py::test_names_that_differ_in_case_or_composition_get_films_of_their_own",
    ),
    "a ticket or mask whose name differs from its art's": (
        "/unit/intake/test_scan.py::"
        "test_a_ticket_in_other_capitals_or_unicode_form_belongs_to_its_art",
        "/unit/intake/test_scan.py::test_the_exact_name_comes_before_one_in_other_capitals",
        "/unit/intake/test_scan.py::test_a_ticket_that_fits_two_arts_is_told_to_both",
        "test_samba.py::test_a_ticket_and_a_mask_whose_names_differ_in_case",
    ),
    "links, pipes, devices": ("test_spool_drops.py::test_links_and_pipes_stay",),
    "a link in the place of settled art": (
        "test_spool_drops.py::test_exchanged_for_a_link_at_the_last_moment",
        "test_spool_drops.py::test_outputs_are_never_written_through_a_link",
    ),
    "a customer's file removed by filmhand": (
        "test_spool_drops.py::test_nothing_ever_removes_or_writes_a_customers_file",
    ),
    "helper files and folders of other systems in filmhand's own folders": (
        "test_foreign_things.py::test_litter_in_every_folder_of_a_job_never_stops_its_end",
        "test_foreign_things.py::test_litter_in_the_folder_of_a_gang",
        "test_foreign_things.py::test_helper_folders_are_no_jobs_to_take_over",
        "test_foreign_things.py::test_a_folder_that_cannot_be_emptied_yet_is_out_of_the_way_and_tidied_later",
    ),
    "a stranger's file in a job's folder": (
        "test_foreign_things.py::test_a_strangers_file_in_a_jobs_hands_goes_to_drop",
    ),
    "a profile's folder on several disks": (
        "test_station_absent.py::test_a_folder_on_another_disk_is_told_before_any_art_is_taken",
    ),
    "a worker ended from outside, by a person or for want of memory": (
        "test_service_worker.py::test_one_that_is_ended_from_outside_says_so",
        "test_workers_killed.py::test_it_is_tried_again_later_without_a_strike_and_holds_up_nobody",
        "test_workers_killed.py::test_a_gang_parts_and_nobody_has_a_strike",
    ),
    "the station unmounted, renamed or another": (
        "test_station_absent.py::test_nothing_is_made_under_an_absent_mount",
        "test_station_absent.py::test_started_while_it_is_absent_the_service_goes_on_when_it_is_back",
        "test_station_absent.py::test_renamed_under_a_running_service",
        "test_station_absent.py::test_a_stale_tree_under_the_mount_point_is_not_worked_in",
        "test_station_absent.py::test_unmounted_and_mounted_again",
        "test_station_absent.py::test_vanished_between_the_look_and_the_claim",
        "/unit/service/test_status_files.py::test_the_page_waits_for_the_station",
    ),
    # The page
    "a page that nobody writes any more": (
        "/outside/test_page_in_browser.py::"
        "test_a_page_that_nobody_writes_says_so_within_half_a_minute",
    ),
    "a page over HTTP asked for what it does not show, by a strange name, or not at all": (
        "test_page_served.py::test_nothing_else_is_given",
        "test_page_served.py::test_only_who_asks_for_us_is_answered",
        "test_page_served.py::test_readers_who_say_nothing_or_nonsense_keep_nobody_out",
        "test_page_served.py::test_what_a_customer_sent_is_never_opened_by_the_browser",
    ),
    # Profiles
    "faulty profile": (
        "test_service_station.py::test_no_right_profile_ends_with_78",
        "test_service_station.py::test_a_faulty_change_keeps_the_old_profile_and_says_so",
    ),
    "profile changed during a job": (
        "test_service_station.py::test_a_job_keeps_the_profile_that_it_was_taken_with",
    ),
    "a profile removed, renamed or faulty with art waiting": (
        "test_strays.py::test_art_of_a_profile_that_is_gone_is_named",
        "test_strays.py::test_the_folder_elsewhere_of_a_profile_that_is_gone",
    ),
    "a copied profile, or one folder inside another": (
        "test_strays.py::test_a_copied_profile_never_takes_the_folder_from_the_one_that_has_it",
        "test_strays.py::"
        "test_a_host_that_remembers_nothing_leaves_the_folder_to_the_profile_of_its_name",
        "test_strays.py::test_of_two_nested_folders_the_newcomer_is_the_fault",
    ),
    "pictures put beside the drop folder": (
        "test_strays.py::test_pictures_in_the_wrong_folders_are_named_and_not_moved",
    ),
    # People who are to be told
    "a mail server or web hook that hangs, refuses or is down": (
        "test_notify.py::test_a_target_that_hangs_or_refuses_slows_nothing",
        "test_notify.py::test_a_web_hook_that_does_not_take_it_is_told_and_no_redirect_is_followed",
        "/unit/notify/test_delivery.py::"
        "test_a_target_that_hangs_holds_one_thread_and_piles_nothing_up",
        "/unit/notify/test_delivery.py::"
        "test_what_fails_is_tried_again_with_growing_pauses_and_nothing_is_lost",
    ),
    "a thousand refusals at once": (
        "test_notify.py::test_once_tells_all_in_one_message_at_its_end",
        "/unit/notify/test_delivery.py::"
        "test_the_first_goes_out_at_once_and_the_rest_as_one_after_a_minute",
    ),
    "a file's name that would add a header or a line": (
        "test_notify.py::test_no_name_of_a_file_adds_a_header_or_a_line",
    ),
    "a server without TLS, or with a certificate that nobody vouches for": (
        "test_notify.py::test_no_password_goes_out_in_the_clear",
        "test_notify.py::test_a_certificate_that_nobody_vouches_for_gets_no_password",
    ),
    "secrets in errors, logs, status and job folders": (
        "test_notify.py::test_no_secret_is_written_anywhere",
        "test_notify.py::test_an_address_from_the_environment_is_never_told",
        "test_notify.py::test_the_librarys_services_are_told_and_its_log_is_silent",
        "/unit/notify/test_notify_profile.py::test_what_is_not_right_is_told_without_showing_it",
        "/unit/notify/test_notify_profile.py::test_a_secret_file_must_be_its_owners_alone",
    ),
    "stopped or killed while messages wait": (
        "/unit/notify/test_delivery.py::test_a_restart_loses_nothing_and_tells_no_sooner",
        "/unit/notify/test_delivery.py::"
        "test_what_was_on_its_way_when_the_service_died_is_told_again",
    ),
    # Very much, for very long
    "thousands of files in 200 folders at once": (
        "test_many_jobs.py::test_very_many_files_and_folders_at_once",
    ),
    "a wish in a name that is passed over": (
        "/unit/profile/test_names_people_write.py::test_it_is_refused_with_the_name_to_use",
        "/unit/profile/test_names_people_write.py::test_no_wish_is_passed_over",
    ),
    "a film by another program whose image cannot be decoded": (
        "/outside/test_foreign_films.py::test_empty_pages_broken_images_and_locked_files_are_told",
    ),
    "several refused files of one name, and one of them tried again": (
        "test_spool_retry.py::test_a_name_of_several_files_moves_none_and_lists_them",
    ),
    "open files and children left behind": (
        "test_many_jobs.py::test_200_jobs_leave_no_open_file_thread_or_child",
        "test_many_jobs.py::test_real_workers_leave_no_zombie_and_no_pipe",
    ),
    "films carried off at once": (
        "test_hosts_stopped.py::test_films_are_carried_off_at_once_while_hosts_are_killed",
        "test_spool_trouble.py::test_a_film_that_a_queue_takes_at_once_is_not_made_twice",
    ),
}


def path_of(name: str) -> Path:
    file = name.partition("::")[0]
    return TESTS / file[1:] if file.startswith("/") else TESTS / "failure" / file


@pytest.mark.parametrize("failure", FAILURES)
def test_every_failure_has_tests_that_look(failure: str) -> None:
    """They exist and, themselves or by a helper of assertions, look at something."""
    assert FAILURES[failure]
    for name in FAILURES[failure]:
        tree = ast.parse(path_of(name).read_text())
        functions = {one.name: one for one in ast.walk(tree) if isinstance(one, ast.FunctionDef)}
        test = functions[name.partition("::")[2]]
        calls = {ast.unparse(one.func) for one in ast.walk(test) if isinstance(one, ast.Call)}
        asserts = any(isinstance(one, ast.Assert) for one in ast.walk(test))
        helpers = {
            "assert_invariants",
            "shared.finish",
            "pytest.raises",
            "case.finish",
            "wait_until",
        }
        assert asserts or helpers & calls, name


def test_every_step_of_a_job_is_killed_slept_at_and_met_by_a_full_disk() -> None:
    """Each of these goes through the one list of steps, so a new step is tried at once."""
    for name in ("test_spool_killed.py", "test_hosts_stopped.py", "test_disk_full.py"):
        assert "FAILPOINTS" in (TESTS / "failure" / name).read_text()
    for name in ("test_print_killed.py", "test_print_trouble.py"):
        assert "FAILPOINTS_PRINT" in (TESTS / "failure" / name).read_text()
    for name in ("test_spool_gang_killed.py", "test_disk_full.py"):
        assert "FAILPOINTS_GANG" in (TESTS / "failure" / name).read_text()
