BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0004');
CREATE TABLE animal_events (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	start DATE NOT NULL, 
	"end" DATE, 
	"case" TEXT, 
	"by" TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_animal_events PRIMARY KEY (id), 
	CONSTRAINT uq_animal_events_replaces UNIQUE (replaces), 
	CONSTRAINT fk_animal_events_code_replaces FOREIGN KEY(code, replaces) REFERENCES animal_events (code, id), 
	CONSTRAINT fk_animal_events_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_animal_events_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT fk_animal_events_case FOREIGN KEY("case") REFERENCES codes (code), 
	CONSTRAINT uq_animal_events_code_id UNIQUE (code, id), 
	CONSTRAINT ck_animal_events_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_animal_events_kind_known CHECK (kind IN ('brumation', 'died', 'left', 'vet accepts course')), 
	CONSTRAINT ck_animal_events_start_end_ordered CHECK ("end" >= start), 
	CONSTRAINT ck_animal_events_case_kind CHECK (substr("case", 1, 1) = 'C'), 
	CONSTRAINT ck_animal_events_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "animal_events" VALUES(1,'V1','A1','brumation','2026-03-04','2026-03-20',NULL,'','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
INSERT INTO "animal_events" VALUES(2,'V2','A1','vet accepts course','2026-03-04',NULL,'C1','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE animals (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	number_of_animals INTEGER NOT NULL, 
	species TEXT NOT NULL, 
	host_group TEXT NOT NULL, 
	plant_eater BOOLEAN NOT NULL, 
	adult BOOLEAN, 
	enclosure TEXT NOT NULL, 
	arrived_on DATE, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_animals PRIMARY KEY (id), 
	CONSTRAINT uq_animals_replaces UNIQUE (replaces), 
	CONSTRAINT fk_animals_code_replaces FOREIGN KEY(code, replaces) REFERENCES animals (code, id), 
	CONSTRAINT fk_animals_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT uq_animals_code_id UNIQUE (code, id), 
	CONSTRAINT ck_animals_name_key_not_empty CHECK (name_key <> ''), 
	CONSTRAINT ck_animals_kind_known CHECK (kind IN ('animal', 'tub', 'pen')), 
	CONSTRAINT ck_animals_number_of_animals_at_least_one CHECK (number_of_animals >= 1), 
	CONSTRAINT ck_animals_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "animals" VALUES(1,'A1','Tilda <b>“the tank”</b> 🐢','tilda <b>“the tank”</b> 🐢','animal',1,'Testudo hermanni','tortoise',1,1,'north pen','2026-02-01','first line
second line','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
INSERT INTO "animals" VALUES(2,'A2','Tub 3','tub 3','tub',4,'','other',0,NULL,'',NULL,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE arrival_members (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	arrival TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	joined_on DATE NOT NULL, 
	left_on DATE, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_arrival_members PRIMARY KEY (id), 
	CONSTRAINT uq_arrival_members_replaces UNIQUE (replaces), 
	CONSTRAINT fk_arrival_members_code_replaces FOREIGN KEY(code, replaces) REFERENCES arrival_members (code, id), 
	CONSTRAINT fk_arrival_members_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_arrival_members_arrival FOREIGN KEY(arrival) REFERENCES codes (code), 
	CONSTRAINT fk_arrival_members_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT uq_arrival_members_code_id UNIQUE (code, id), 
	CONSTRAINT ck_arrival_members_arrival_kind CHECK (substr(arrival, 1, 1) = 'I'), 
	CONSTRAINT ck_arrival_members_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_arrival_members_joined_on_left_on_ordered CHECK (left_on >= joined_on), 
	CONSTRAINT ck_arrival_members_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "arrival_members" VALUES(1,'IM1','I1','A2','2026-02-01',NULL,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE arrival_protocols (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	arrival TEXT NOT NULL, 
	written_on DATE NOT NULL, 
	template TEXT NOT NULL, 
	edition TEXT NOT NULL, 
	vet TEXT NOT NULL, 
	days_at_least INTEGER NOT NULL, 
	negatives_needed INTEGER NOT NULL, 
	spacing_days INTEGER NOT NULL, 
	last_exam_after_days INTEGER, 
	laboratory_pcrs INTEGER NOT NULL, 
	positive_restarts TEXT NOT NULL, 
	newcomer_restarts TEXT NOT NULL, 
	source TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_arrival_protocols PRIMARY KEY (id), 
	CONSTRAINT uq_arrival_protocols_replaces UNIQUE (replaces), 
	CONSTRAINT fk_arrival_protocols_code_replaces FOREIGN KEY(code, replaces) REFERENCES arrival_protocols (code, id), 
	CONSTRAINT fk_arrival_protocols_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_arrival_protocols_arrival FOREIGN KEY(arrival) REFERENCES codes (code), 
	CONSTRAINT uq_arrival_protocols_code_id UNIQUE (code, id), 
	CONSTRAINT ck_arrival_protocols_arrival_kind CHECK (substr(arrival, 1, 1) = 'I'), 
	CONSTRAINT ck_arrival_protocols_days_at_least_not_negative CHECK (days_at_least >= 0), 
	CONSTRAINT ck_arrival_protocols_negatives_needed_not_negative CHECK (negatives_needed >= 0), 
	CONSTRAINT ck_arrival_protocols_spacing_days_not_negative CHECK (spacing_days >= 0), 
	CONSTRAINT ck_arrival_protocols_last_exam_after_days_not_negative CHECK (last_exam_after_days >= 0), 
	CONSTRAINT ck_arrival_protocols_laboratory_pcrs_not_negative CHECK (laboratory_pcrs >= 0), 
	CONSTRAINT ck_arrival_protocols_positive_restarts_known CHECK (positive_restarts IN ('the animal', 'the contact group', 'the arrival', 'the room')), 
	CONSTRAINT ck_arrival_protocols_newcomer_restarts_known CHECK (newcomer_restarts IN ('the animal', 'the contact group', 'the arrival', 'the room')), 
	CONSTRAINT ck_arrival_protocols_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "arrival_protocols" VALUES(1,'IP1','I1','2026-02-01','custom','','Dr. Invented',90,3,14,22,0,'the contact group','the contact group','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE arrivals (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	name TEXT NOT NULL, 
	arrived_on DATE NOT NULL, 
	origin TEXT NOT NULL, 
	source TEXT NOT NULL, 
	split_from TEXT, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_arrivals PRIMARY KEY (id), 
	CONSTRAINT uq_arrivals_replaces UNIQUE (replaces), 
	CONSTRAINT fk_arrivals_code_replaces FOREIGN KEY(code, replaces) REFERENCES arrivals (code, id), 
	CONSTRAINT fk_arrivals_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_arrivals_split_from FOREIGN KEY(split_from) REFERENCES codes (code), 
	CONSTRAINT uq_arrivals_code_id UNIQUE (code, id), 
	CONSTRAINT ck_arrivals_origin_known CHECK (origin IN ('captive bred', 'farmed', 'wild caught', 'confiscated', 'unknown')), 
	CONSTRAINT ck_arrivals_split_from_kind CHECK (substr(split_from, 1, 1) = 'I'), 
	CONSTRAINT ck_arrivals_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "arrivals" VALUES(1,'I1','from the 🐢 fair','2026-02-01','captive bred','a fair',NULL,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE care_entries (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT, 
	enclosure TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	kind TEXT NOT NULL, 
	amount DOUBLE, 
	unit TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_care_entries PRIMARY KEY (id), 
	CONSTRAINT uq_care_entries_replaces UNIQUE (replaces), 
	CONSTRAINT fk_care_entries_code_replaces FOREIGN KEY(code, replaces) REFERENCES care_entries (code, id), 
	CONSTRAINT fk_care_entries_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_care_entries_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT uq_care_entries_code_id UNIQUE (code, id), 
	CONSTRAINT ck_care_entries_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_care_entries_kind_known CHECK (kind IN ('fluids', 'feeding', 'warm end', 'lowest at night', 'soak', 'cleaning', 'other')), 
	CONSTRAINT ck_care_entries_enclosure_or_animal CHECK (animal IS NOT NULL OR enclosure <> ''), 
	CONSTRAINT ck_care_entries_amount_fits_kind CHECK (amount IS NULL OR amount >= 0 OR kind IN ('warm end', 'lowest at night', 'other')), 
	CONSTRAINT ck_care_entries_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "care_entries" VALUES(1,'K1','A1','','2026-03-03 07:00:00.000000','lowest at night',-1.5,'°C','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
INSERT INTO "care_entries" VALUES(2,'K2',NULL,'north pen','2026-03-03 09:00:00.000000','cleaning',NULL,'','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE case_stages (
	id INTEGER NOT NULL, 
	case_id INTEGER NOT NULL, 
	stage TEXT NOT NULL, 
	CONSTRAINT pk_case_stages PRIMARY KEY (id), 
	CONSTRAINT fk_case_stages_case_id FOREIGN KEY(case_id) REFERENCES cases (id), 
	CONSTRAINT uq_case_stages_case_id_stage UNIQUE (case_id, stage), 
	CONSTRAINT ck_case_stages_stage_not_empty CHECK (stage <> '')
);
INSERT INTO "case_stages" VALUES(1,1,'egg');
INSERT INTO "case_stages" VALUES(2,1,'larva');
CREATE TABLE case_words (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	"case" TEXT NOT NULL, 
	advice TEXT NOT NULL, 
	plan_kind TEXT NOT NULL, 
	same_as TEXT, 
	plan_says TEXT NOT NULL, 
	follow_up_says TEXT NOT NULL, 
	taken_as TEXT, 
	declined TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_case_words PRIMARY KEY (id), 
	CONSTRAINT uq_case_words_replaces UNIQUE (replaces), 
	CONSTRAINT fk_case_words_code_replaces FOREIGN KEY(code, replaces) REFERENCES case_words (code, id), 
	CONSTRAINT fk_case_words_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_case_words_answer FOREIGN KEY(answer) REFERENCES codes (code), 
	CONSTRAINT fk_case_words_case FOREIGN KEY("case") REFERENCES codes (code), 
	CONSTRAINT fk_case_words_same_as FOREIGN KEY(same_as) REFERENCES codes (code), 
	CONSTRAINT fk_case_words_taken_as FOREIGN KEY(taken_as) REFERENCES codes (code), 
	CONSTRAINT uq_case_words_code_id UNIQUE (code, id), 
	CONSTRAINT ck_case_words_answer_kind CHECK (substr(answer, 1, 1) = 'Y'), 
	CONSTRAINT ck_case_words_case_kind CHECK (substr("case", 1, 1) = 'C'), 
	CONSTRAINT ck_case_words_plan_kind_known CHECK (plan_kind IN ('', 'same', 'new')), 
	CONSTRAINT ck_case_words_same_as_kind CHECK (substr(same_as, 1, 1) = 'P'), 
	CONSTRAINT ck_case_words_taken_as_kind CHECK (substr(taken_as, 1, 1) = 'P'), 
	CONSTRAINT ck_case_words_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "case_words" VALUES(1,'N1','Y1','C1','keep
warm','same','P1','{"kind":"same","plan":"P1"}','','P1','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE cases (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	target TEXT NOT NULL, 
	species TEXT NOT NULL, 
	opened_on DATE NOT NULL, 
	opened_by_exam TEXT, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_cases PRIMARY KEY (id), 
	CONSTRAINT uq_cases_replaces UNIQUE (replaces), 
	CONSTRAINT fk_cases_code_replaces FOREIGN KEY(code, replaces) REFERENCES cases (code, id), 
	CONSTRAINT fk_cases_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_cases_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT fk_cases_opened_by_exam FOREIGN KEY(opened_by_exam) REFERENCES codes (code), 
	CONSTRAINT uq_cases_code_id UNIQUE (code, id), 
	CONSTRAINT ck_cases_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_cases_target_not_empty CHECK (target <> ''), 
	CONSTRAINT ck_cases_opened_by_exam_kind CHECK (substr(opened_by_exam, 1, 1) = 'E'), 
	CONSTRAINT ck_cases_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "cases" VALUES(1,'C1','A1','oxyurid','','2026-03-01','E1','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE closings (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	"case" TEXT NOT NULL, 
	closed_on DATE NOT NULL, 
	"by" TEXT NOT NULL, 
	ending TEXT NOT NULL, 
	vet TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	standing_then TEXT NOT NULL, 
	edition TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_closings PRIMARY KEY (id), 
	CONSTRAINT uq_closings_replaces UNIQUE (replaces), 
	CONSTRAINT fk_closings_code_replaces FOREIGN KEY(code, replaces) REFERENCES closings (code, id), 
	CONSTRAINT fk_closings_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_closings_case FOREIGN KEY("case") REFERENCES codes (code), 
	CONSTRAINT uq_closings_code_id UNIQUE (code, id), 
	CONSTRAINT ck_closings_case_kind CHECK (substr("case", 1, 1) = 'C'), 
	CONSTRAINT ck_closings_ending_known CHECK (ending IN ('goal reached', 'on a vet''s order', 'animal died', 'animal left', 'withdrawn: reading corrected')), 
	CONSTRAINT ck_closings_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "closings" VALUES(1,'X1','C1','2026-03-04','keeper','on a vet''s order','Dr. Invented','','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE codes (
	code TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	parent TEXT, 
	number INTEGER NOT NULL, 
	CONSTRAINT pk_codes PRIMARY KEY (code), 
	CONSTRAINT fk_codes_parent FOREIGN KEY(parent) REFERENCES codes (code), 
	CONSTRAINT ck_codes_number_at_least_one CHECK (number >= 1)
);
INSERT INTO "codes" VALUES('A1','animal',NULL,1);
INSERT INTO "codes" VALUES('B1','enclosure',NULL,1);
INSERT INTO "codes" VALUES('BT1','stay',NULL,1);
INSERT INTO "codes" VALUES('A2','animal',NULL,2);
INSERT INTO "codes" VALUES('W1','weighing',NULL,1);
INSERT INTO "codes" VALUES('S1','sample',NULL,1);
INSERT INTO "codes" VALUES('S2','sample',NULL,2);
INSERT INTO "codes" VALUES('E1','exam',NULL,1);
INSERT INTO "codes" VALUES('E1-1','preparation','E1',1);
INSERT INTO "codes" VALUES('E1-2','preparation','E1',2);
INSERT INTO "codes" VALUES('E1-1-1','reading','E1-1',1);
INSERT INTO "codes" VALUES('E1-1-2','reading','E1-1',2);
INSERT INTO "codes" VALUES('E1-1-2-1','mark','E1-1-2',1);
INSERT INTO "codes" VALUES('E1-1-2-2','mark','E1-1-2',2);
INSERT INTO "codes" VALUES('E1-R1','result from elsewhere','E1',1);
INSERT INTO "codes" VALUES('C1','case',NULL,1);
INSERT INTO "codes" VALUES('P1','plan',NULL,1);
INSERT INTO "codes" VALUES('D1','dose',NULL,1);
INSERT INTO "codes" VALUES('R1','reaction',NULL,1);
INSERT INTO "codes" VALUES('H1','other drug',NULL,1);
INSERT INTO "codes" VALUES('M1','measurement',NULL,1);
INSERT INTO "codes" VALUES('G1','sign',NULL,1);
INSERT INTO "codes" VALUES('Q1','control run',NULL,1);
INSERT INTO "codes" VALUES('V1','event',NULL,1);
INSERT INTO "codes" VALUES('V2','event',NULL,2);
INSERT INTO "codes" VALUES('K1','care entry',NULL,1);
INSERT INTO "codes" VALUES('K2','care entry',NULL,2);
INSERT INTO "codes" VALUES('B2','enclosure',NULL,2);
INSERT INTO "codes" VALUES('BW1','sharing',NULL,1);
INSERT INTO "codes" VALUES('BT2','stay',NULL,2);
INSERT INTO "codes" VALUES('F1','change of number',NULL,1);
INSERT INTO "codes" VALUES('I1','arrival',NULL,1);
INSERT INTO "codes" VALUES('IM1','member',NULL,1);
INSERT INTO "codes" VALUES('IP1','protocol',NULL,1);
INSERT INTO "codes" VALUES('L1','release',NULL,1);
INSERT INTO "codes" VALUES('X1','closing',NULL,1);
INSERT INTO "codes" VALUES('Z1','vet''s page',NULL,1);
INSERT INTO "codes" VALUES('Y1','vet''s answer',NULL,1);
INSERT INTO "codes" VALUES('U1','word on a mark',NULL,1);
INSERT INTO "codes" VALUES('O1','missed organism',NULL,1);
INSERT INTO "codes" VALUES('J1','word on an exam',NULL,1);
INSERT INTO "codes" VALUES('N1','word on a case',NULL,1);
INSERT INTO "codes" VALUES('T1','vet''s key',NULL,1);
CREATE TABLE collection (
	id INTEGER NOT NULL, 
	identity TEXT NOT NULL, 
	made_at DATETIME NOT NULL, 
	CONSTRAINT pk_collection PRIMARY KEY (id), 
	CONSTRAINT ck_collection_id_single CHECK (id = 1)
);
INSERT INTO "collection" VALUES(1,'98b4e626-a95d-48f8-8034-5cdce8747d68','2026-03-04 09:30:00.000000');
CREATE TABLE control_runs (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	done_at DATETIME NOT NULL, 
	method TEXT NOT NULL, 
	solution TEXT NOT NULL, 
	bottle TEXT NOT NULL, 
	objective DOUBLE, 
	expected TEXT NOT NULL, 
	found TEXT NOT NULL, 
	expected_value DOUBLE, 
	value DOUBLE, 
	passed BOOLEAN NOT NULL, 
	judged TEXT NOT NULL, 
	"by" TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_control_runs PRIMARY KEY (id), 
	CONSTRAINT uq_control_runs_replaces UNIQUE (replaces), 
	CONSTRAINT fk_control_runs_code_replaces FOREIGN KEY(code, replaces) REFERENCES control_runs (code, id), 
	CONSTRAINT fk_control_runs_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT uq_control_runs_code_id UNIQUE (code, id), 
	CONSTRAINT ck_control_runs_kind_known CHECK (kind IN ('known positive', 'blank', 'gravity', 'slide read blind', 'microscope scale', 'outside check')), 
	CONSTRAINT ck_control_runs_objective_positive CHECK (objective > 0), 
	CONSTRAINT ck_control_runs_expected_value_not_negative CHECK (expected_value >= 0), 
	CONSTRAINT ck_control_runs_value_not_negative CHECK (value >= 0), 
	CONSTRAINT ck_control_runs_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "control_runs" VALUES(1,'Q1','known positive','2026-03-01 10:00:00.000000','simple_flotation','saturated salt','made in February',10.0,'oxyurid eggs','oxyurid eggs',20.0,0.0,0,'0 found where 20 are usual','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE count_changes (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	"on" DATE NOT NULL, 
	kind TEXT NOT NULL, 
	number INTEGER NOT NULL, 
	other TEXT, 
	"by" TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_count_changes PRIMARY KEY (id), 
	CONSTRAINT uq_count_changes_replaces UNIQUE (replaces), 
	CONSTRAINT fk_count_changes_code_replaces FOREIGN KEY(code, replaces) REFERENCES count_changes (code, id), 
	CONSTRAINT fk_count_changes_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_count_changes_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT fk_count_changes_other FOREIGN KEY(other) REFERENCES codes (code), 
	CONSTRAINT uq_count_changes_code_id UNIQUE (code, id), 
	CONSTRAINT ck_count_changes_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_count_changes_kind_known CHECK (kind IN ('died', 'sold', 'moved out', 'moved in', 'escaped', 'found again')), 
	CONSTRAINT ck_count_changes_number_at_least_one CHECK (number >= 1), 
	CONSTRAINT ck_count_changes_other_kind CHECK (substr(other, 1, 1) = 'A'), 
	CONSTRAINT ck_count_changes_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "count_changes" VALUES(1,'F1','A2','2026-02-09','moved out',1,'A1','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE dose_overrides (
	id INTEGER NOT NULL, 
	dose_id INTEGER NOT NULL, 
	rule TEXT NOT NULL, 
	"by" TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	why TEXT NOT NULL, 
	CONSTRAINT pk_dose_overrides PRIMARY KEY (id), 
	CONSTRAINT fk_dose_overrides_dose_id FOREIGN KEY(dose_id) REFERENCES doses_given (id), 
	CONSTRAINT uq_dose_overrides_dose_id_rule UNIQUE (dose_id, rule), 
	CONSTRAINT ck_dose_overrides_rule_not_empty CHECK (rule <> ''), 
	CONSTRAINT ck_dose_overrides_by_not_empty CHECK (by <> '')
);
INSERT INTO "dose_overrides" VALUES(1,1,'too-late','Dr. Invented','2026-03-03 17:00:00.000000','');
CREATE TABLE dose_reactions (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	dose TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	sign TEXT NOT NULL, 
	text TEXT NOT NULL, 
	"by" TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_dose_reactions PRIMARY KEY (id), 
	CONSTRAINT uq_dose_reactions_replaces UNIQUE (replaces), 
	CONSTRAINT fk_dose_reactions_code_replaces FOREIGN KEY(code, replaces) REFERENCES dose_reactions (code, id), 
	CONSTRAINT fk_dose_reactions_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_dose_reactions_dose FOREIGN KEY(dose) REFERENCES codes (code), 
	CONSTRAINT uq_dose_reactions_code_id UNIQUE (code, id), 
	CONSTRAINT ck_dose_reactions_dose_kind CHECK (substr(dose, 1, 1) = 'D'), 
	CONSTRAINT ck_dose_reactions_sign_not_empty CHECK (sign <> ''), 
	CONSTRAINT ck_dose_reactions_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "dose_reactions" VALUES(1,'R1','D1','2026-03-03 20:00:00.000000','wobbling','left
right','keeper','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE "doses_given" (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	"plan" TEXT NOT NULL, 
	given_at DATETIME NOT NULL, 
	outcome TEXT NOT NULL, 
	volume_ml TEXT NOT NULL, 
	weight_g DOUBLE, 
	"by" TEXT NOT NULL, 
	lot TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	second_person TEXT DEFAULT '' NOT NULL, 
	syringe_ml DOUBLE, 
	dilution_factor DOUBLE, 
	diluted_mg_per_ml TEXT DEFAULT '' NOT NULL, 
	delivered_mg_per_kg TEXT DEFAULT '' NOT NULL, 
	flush_ml DOUBLE, 
	as_told BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_doses_given PRIMARY KEY (id), 
	CONSTRAINT fk_doses_given_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT ck_doses_given_plan_kind CHECK (substr(plan, 1, 1) = 'P'), 
	CONSTRAINT ck_doses_given_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> '')), 
	CONSTRAINT ck_doses_given_weight_g_positive CHECK (weight_g > 0), 
	CONSTRAINT fk_doses_given_plan FOREIGN KEY("plan") REFERENCES codes (code), 
	CONSTRAINT ck_doses_given_outcome_known CHECK (outcome IN ('given', 'partly given', 'missed', 'spat', 'vomited')), 
	CONSTRAINT uq_doses_given_code_id UNIQUE (code, id), 
	CONSTRAINT uq_doses_given_replaces UNIQUE (replaces), 
	CONSTRAINT fk_doses_given_code_replaces FOREIGN KEY(code, replaces) REFERENCES doses_given (code, id), 
	CONSTRAINT ck_doses_given_syringe_ml_positive CHECK (syringe_ml > 0), 
	CONSTRAINT ck_doses_given_dilution_factor_positive CHECK (dilution_factor > 0), 
	CONSTRAINT ck_doses_given_flush_ml_not_negative CHECK (flush_ml >= 0)
);
INSERT INTO "doses_given" VALUES(1,'D1','P1','2026-03-03 18:00:00.000000','given','0.20',412.5,'','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0,'a friend',0.5,4.0,'25','48.48',0.3,1);
CREATE TABLE elsewhere_results (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	exam TEXT NOT NULL, 
	target TEXT NOT NULL, 
	stage TEXT NOT NULL, 
	who TEXT NOT NULL, 
	method TEXT NOT NULL, 
	reported_on DATE NOT NULL, 
	result TEXT NOT NULL, 
	stated_adequate BOOLEAN, 
	grade TEXT NOT NULL, 
	picture TEXT, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_elsewhere_results PRIMARY KEY (id), 
	CONSTRAINT uq_elsewhere_results_replaces UNIQUE (replaces), 
	CONSTRAINT fk_elsewhere_results_code_replaces FOREIGN KEY(code, replaces) REFERENCES elsewhere_results (code, id), 
	CONSTRAINT fk_elsewhere_results_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_elsewhere_results_exam FOREIGN KEY(exam) REFERENCES codes (code), 
	CONSTRAINT fk_elsewhere_results_picture FOREIGN KEY(picture) REFERENCES pictures (sha256), 
	CONSTRAINT uq_elsewhere_results_code_id UNIQUE (code, id), 
	CONSTRAINT ck_elsewhere_results_exam_kind CHECK (substr(exam, 1, 1) = 'E'), 
	CONSTRAINT ck_elsewhere_results_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "elsewhere_results" VALUES(1,'E1-R1','E1','coccidian','oocyst','an invented laboratory','flotation','2026-03-03','none seen',1,'','4915583db9a0f5c7ee46af1116eb175789e422a62192c08d673194d3dc6c1b95','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE enclosures (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	room TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_enclosures PRIMARY KEY (id), 
	CONSTRAINT uq_enclosures_replaces UNIQUE (replaces), 
	CONSTRAINT fk_enclosures_code_replaces FOREIGN KEY(code, replaces) REFERENCES enclosures (code, id), 
	CONSTRAINT fk_enclosures_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT uq_enclosures_code_id UNIQUE (code, id), 
	CONSTRAINT ck_enclosures_name_key_not_empty CHECK (name_key <> ''), 
	CONSTRAINT ck_enclosures_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "enclosures" VALUES(1,'B1','north pen','north pen','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
INSERT INTO "enclosures" VALUES(2,'B2','drawer “4”','drawer “4”','warm room','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE exam_verdicts (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	exam TEXT NOT NULL, 
	target TEXT NOT NULL, 
	grade TEXT NOT NULL, 
	adequacy TEXT NOT NULL, 
	picture_quality TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_exam_verdicts PRIMARY KEY (id), 
	CONSTRAINT uq_exam_verdicts_replaces UNIQUE (replaces), 
	CONSTRAINT fk_exam_verdicts_code_replaces FOREIGN KEY(code, replaces) REFERENCES exam_verdicts (code, id), 
	CONSTRAINT fk_exam_verdicts_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_exam_verdicts_answer FOREIGN KEY(answer) REFERENCES codes (code), 
	CONSTRAINT fk_exam_verdicts_exam FOREIGN KEY(exam) REFERENCES codes (code), 
	CONSTRAINT uq_exam_verdicts_code_id UNIQUE (code, id), 
	CONSTRAINT ck_exam_verdicts_answer_kind CHECK (substr(answer, 1, 1) = 'Y'), 
	CONSTRAINT ck_exam_verdicts_exam_kind CHECK (substr(exam, 1, 1) = 'E'), 
	CONSTRAINT ck_exam_verdicts_adequacy_known CHECK (adequacy IN ('', 'agree', 'not adequate', 'accept')), 
	CONSTRAINT ck_exam_verdicts_picture_quality_known CHECK (picture_quality IN ('', 'good', 'usable', 'too poor')), 
	CONSTRAINT ck_exam_verdicts_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "exam_verdicts" VALUES(1,'J1','Y1','E1','oxyurid','few','not adequate','usable','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE "exams" (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	sample TEXT NOT NULL, 
	examined_at DATETIME NOT NULL, 
	"by" TEXT NOT NULL, 
	question TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	as_told BOOLEAN DEFAULT 0 NOT NULL, 
	stated_adequate BOOLEAN, 
	CONSTRAINT pk_exams PRIMARY KEY (id), 
	CONSTRAINT fk_exams_code_replaces FOREIGN KEY(code, replaces) REFERENCES exams (code, id), 
	CONSTRAINT fk_exams_sample FOREIGN KEY(sample) REFERENCES codes (code), 
	CONSTRAINT ck_exams_sample_kind CHECK (substr(sample, 1, 1) = 'S'), 
	CONSTRAINT uq_exams_replaces UNIQUE (replaces), 
	CONSTRAINT ck_exams_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> '')), 
	CONSTRAINT fk_exams_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT uq_exams_code_id UNIQUE (code, id)
);
INSERT INTO "exams" VALUES(1,'E1','S1','2026-03-01 08:50:00.000000','keeper','worms?','','2026-03-04 09:30:00.000000','keeper',NULL,'',0,0,NULL);
CREATE TABLE mark_verdicts (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	exam TEXT NOT NULL, 
	reading TEXT NOT NULL, 
	item TEXT NOT NULL, 
	word TEXT NOT NULL, 
	name TEXT NOT NULL, 
	sure BOOLEAN NOT NULL, 
	eye_group TEXT NOT NULL, 
	seen_name TEXT NOT NULL, 
	seen_sure BOOLEAN NOT NULL, 
	count INTEGER NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_mark_verdicts PRIMARY KEY (id), 
	CONSTRAINT uq_mark_verdicts_replaces UNIQUE (replaces), 
	CONSTRAINT fk_mark_verdicts_code_replaces FOREIGN KEY(code, replaces) REFERENCES mark_verdicts (code, id), 
	CONSTRAINT fk_mark_verdicts_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_mark_verdicts_answer FOREIGN KEY(answer) REFERENCES codes (code), 
	CONSTRAINT fk_mark_verdicts_exam FOREIGN KEY(exam) REFERENCES codes (code), 
	CONSTRAINT fk_mark_verdicts_reading FOREIGN KEY(reading) REFERENCES codes (code), 
	CONSTRAINT uq_mark_verdicts_code_id UNIQUE (code, id), 
	CONSTRAINT ck_mark_verdicts_answer_kind CHECK (substr(answer, 1, 1) = 'Y'), 
	CONSTRAINT ck_mark_verdicts_exam_kind CHECK (substr(exam, 1, 1) = 'E'), 
	CONSTRAINT ck_mark_verdicts_reading_kind CHECK (substr(reading, 1, 1) = 'E'), 
	CONSTRAINT ck_mark_verdicts_item_not_empty CHECK (item <> ''), 
	CONSTRAINT ck_mark_verdicts_word_known CHECK (word IN ('agree', 'agree with the rest', 'other', 'artefact', 'cannot tell')), 
	CONSTRAINT ck_mark_verdicts_name_not_empty CHECK (name <> ''), 
	CONSTRAINT ck_mark_verdicts_count_at_least_one CHECK (count >= 1), 
	CONSTRAINT ck_mark_verdicts_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "mark_verdicts" VALUES(1,'U1','Y1','E1','E1-1-2','E1-1-2-2','cannot tell','pollen',0,'pseudoparasite','pollen',0,1,'first
second','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE marks (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	reading TEXT NOT NULL, 
	x_px DOUBLE NOT NULL, 
	y_px DOUBLE NOT NULL, 
	name TEXT NOT NULL, 
	sure BOOLEAN NOT NULL, 
	length_um DOUBLE, 
	width_um DOUBLE, 
	angle_deg DOUBLE, 
	named_by TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_marks PRIMARY KEY (id), 
	CONSTRAINT uq_marks_replaces UNIQUE (replaces), 
	CONSTRAINT fk_marks_code_replaces FOREIGN KEY(code, replaces) REFERENCES marks (code, id), 
	CONSTRAINT fk_marks_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_marks_reading FOREIGN KEY(reading) REFERENCES codes (code), 
	CONSTRAINT uq_marks_code_id UNIQUE (code, id), 
	CONSTRAINT ck_marks_reading_kind CHECK (substr(reading, 1, 1) = 'E'), 
	CONSTRAINT ck_marks_name_not_empty CHECK (name <> ''), 
	CONSTRAINT ck_marks_length_um_positive CHECK (length_um > 0), 
	CONSTRAINT ck_marks_width_um_positive CHECK (width_um > 0), 
	CONSTRAINT ck_marks_angle_deg_half_turn CHECK (angle_deg >= 0 AND angle_deg < 180), 
	CONSTRAINT ck_marks_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "marks" VALUES(1,'E1-1-2-1','E1-1-2',10.5,20.0,'oxyurid',1,130.0,40.0,0.0,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
INSERT INTO "marks" VALUES(2,'E1-1-2-2','E1-1-2',-0.5,0.0,'pollen',0,NULL,NULL,NULL,'vet','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE measurements (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	value_mm DOUBLE NOT NULL, 
	measured_at DATETIME NOT NULL, 
	"by" TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_measurements PRIMARY KEY (id), 
	CONSTRAINT uq_measurements_replaces UNIQUE (replaces), 
	CONSTRAINT fk_measurements_code_replaces FOREIGN KEY(code, replaces) REFERENCES measurements (code, id), 
	CONSTRAINT fk_measurements_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_measurements_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT uq_measurements_code_id UNIQUE (code, id), 
	CONSTRAINT ck_measurements_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_measurements_kind_known CHECK (kind IN ('snout-vent length', 'total length', 'plastron length', 'carapace length', 'snout to stomach', 'other length')), 
	CONSTRAINT ck_measurements_value_mm_positive CHECK (value_mm > 0), 
	CONSTRAINT ck_measurements_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "measurements" VALUES(1,'M1','A1','plastron length',96.5,'2026-03-01 08:00:00.000000','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
INSERT INTO "measurements" VALUES(2,'M1','A1','plastron length',96.5,'2026-03-01 08:00:00.000000','','','2026-03-04 09:30:00.000000','keeper',1,'another animal',1);
CREATE TABLE missed_organisms (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	exam TEXT NOT NULL, 
	reading TEXT NOT NULL, 
	x_px DOUBLE, 
	y_px DOUBLE, 
	name TEXT NOT NULL, 
	sure BOOLEAN NOT NULL, 
	eye_group TEXT NOT NULL, 
	count INTEGER NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_missed_organisms PRIMARY KEY (id), 
	CONSTRAINT uq_missed_organisms_replaces UNIQUE (replaces), 
	CONSTRAINT fk_missed_organisms_code_replaces FOREIGN KEY(code, replaces) REFERENCES missed_organisms (code, id), 
	CONSTRAINT fk_missed_organisms_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_missed_organisms_answer FOREIGN KEY(answer) REFERENCES codes (code), 
	CONSTRAINT fk_missed_organisms_exam FOREIGN KEY(exam) REFERENCES codes (code), 
	CONSTRAINT fk_missed_organisms_reading FOREIGN KEY(reading) REFERENCES codes (code), 
	CONSTRAINT uq_missed_organisms_code_id UNIQUE (code, id), 
	CONSTRAINT ck_missed_organisms_answer_kind CHECK (substr(answer, 1, 1) = 'Y'), 
	CONSTRAINT ck_missed_organisms_exam_kind CHECK (substr(exam, 1, 1) = 'E'), 
	CONSTRAINT ck_missed_organisms_reading_kind CHECK (substr(reading, 1, 1) = 'E'), 
	CONSTRAINT ck_missed_organisms_name_not_empty CHECK (name <> ''), 
	CONSTRAINT ck_missed_organisms_count_at_least_one CHECK (count >= 1), 
	CONSTRAINT ck_missed_organisms_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "missed_organisms" VALUES(1,'O1','Y1','E1','E1-1-2',3.5,0.0,'oxyurid',1,'oxyurid',1,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE other_drugs (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	drug TEXT NOT NULL, 
	mg_per_kg TEXT NOT NULL, 
	given_on DATE NOT NULL, 
	doses INTEGER NOT NULL, 
	"by" TEXT NOT NULL, 
	as_told BOOLEAN NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_other_drugs PRIMARY KEY (id), 
	CONSTRAINT uq_other_drugs_replaces UNIQUE (replaces), 
	CONSTRAINT fk_other_drugs_code_replaces FOREIGN KEY(code, replaces) REFERENCES other_drugs (code, id), 
	CONSTRAINT fk_other_drugs_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_other_drugs_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT uq_other_drugs_code_id UNIQUE (code, id), 
	CONSTRAINT ck_other_drugs_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_other_drugs_drug_not_empty CHECK (drug <> ''), 
	CONSTRAINT ck_other_drugs_doses_at_least_one CHECK (doses >= 1), 
	CONSTRAINT ck_other_drugs_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "other_drugs" VALUES(1,'H1','A1','another drug','25','2026-01-09',2,'',1,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE pictures (
	id INTEGER NOT NULL, 
	sha256 TEXT NOT NULL, 
	file_name TEXT NOT NULL, 
	format TEXT NOT NULL, 
	width_px INTEGER NOT NULL, 
	height_px INTEGER NOT NULL, 
	bytes BIGINT NOT NULL, 
	taken_at DATETIME, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	CONSTRAINT pk_pictures PRIMARY KEY (id), 
	CONSTRAINT uq_pictures_sha256 UNIQUE (sha256), 
	CONSTRAINT ck_pictures_sha256_length CHECK (length(sha256) = 64), 
	CONSTRAINT ck_pictures_width_px_not_negative CHECK (width_px >= 0), 
	CONSTRAINT ck_pictures_height_px_not_negative CHECK (height_px >= 0), 
	CONSTRAINT ck_pictures_bytes_not_negative CHECK (bytes >= 0)
);
INSERT INTO "pictures" VALUES(1,'4915583db9a0f5c7ee46af1116eb175789e422a62192c08d673194d3dc6c1b95','drop.jpg','JPEG',640,480,8,'2026-03-01 08:40:00.000000','2026-03-04 09:30:00.000000','keeper');
CREATE TABLE plan_confirmations (
	id INTEGER NOT NULL, 
	plan_id INTEGER NOT NULL, 
	rule TEXT NOT NULL, 
	"by" TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	why TEXT NOT NULL, 
	CONSTRAINT pk_plan_confirmations PRIMARY KEY (id), 
	CONSTRAINT fk_plan_confirmations_plan_id FOREIGN KEY(plan_id) REFERENCES plans (id), 
	CONSTRAINT uq_plan_confirmations_plan_id_rule UNIQUE (plan_id, rule), 
	CONSTRAINT ck_plan_confirmations_rule_not_empty CHECK (rule <> ''), 
	CONSTRAINT ck_plan_confirmations_by_not_empty CHECK (by <> '')
);
INSERT INTO "plan_confirmations" VALUES(1,1,'weight-some-days-old','Dr. Invented','2026-03-02 09:00:00.000000','');
INSERT INTO "plan_confirmations" VALUES(2,1,'a-rule','Dr. “I”','2026-03-02 10:00:00.000000','a
reason 🐢');
CREATE TABLE "plans" (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	"case" TEXT NOT NULL, 
	vet TEXT NOT NULL, 
	written_on DATE NOT NULL, 
	goal TEXT NOT NULL, 
	drug TEXT NOT NULL, 
	component TEXT NOT NULL, 
	dose_mg_per_kg TEXT NOT NULL, 
	concentration_mg_per_ml TEXT NOT NULL, 
	route TEXT NOT NULL, 
	interval_days DOUBLE, 
	doses_planned INTEGER NOT NULL, 
	weight_max_age_days DOUBLE, 
	negatives_needed INTEGER, 
	spacing_days INTEGER, 
	wait_after_last_dose_days INTEGER, 
	grade_at_most TEXT NOT NULL, 
	grade_scale TEXT NOT NULL, 
	follow_up_source TEXT NOT NULL, 
	fluids TEXT NOT NULL, 
	feeding TEXT NOT NULL, 
	warm_end_at_least_c DOUBLE, 
	picture TEXT, 
	edition TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	repeats_allowed INTEGER, 
	fluids_ml_per_kg_day DOUBLE, 
	fluid_product TEXT DEFAULT '' NOT NULL, 
	night_at_least_c DOUBLE, 
	diluent TEXT DEFAULT '' NOT NULL, 
	diluent_by TEXT DEFAULT '' NOT NULL, 
	volume_written_ml TEXT DEFAULT '' NOT NULL, 
	specialist_word TEXT DEFAULT '' NOT NULL, 
	bottle_ml DOUBLE, 
	tube_french DOUBLE, 
	tube_inner_diameter_mm DOUBLE, 
	tube_length_mm DOUBLE, 
	tube_way TEXT, 
	label_picture TEXT, 
	as_told BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_plans PRIMARY KEY (id), 
	CONSTRAINT ck_plans_interval_days_positive CHECK (interval_days > 0), 
	CONSTRAINT ck_plans_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> '')), 
	CONSTRAINT ck_plans_weight_max_age_days_not_negative CHECK (weight_max_age_days >= 0), 
	CONSTRAINT ck_plans_wait_after_last_dose_days_not_negative CHECK (wait_after_last_dose_days >= 0), 
	CONSTRAINT fk_plans_picture FOREIGN KEY(picture) REFERENCES pictures (sha256), 
	CONSTRAINT fk_plans_case FOREIGN KEY("case") REFERENCES codes (code), 
	CONSTRAINT fk_plans_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT uq_plans_replaces UNIQUE (replaces), 
	CONSTRAINT ck_plans_goal_known CHECK (goal IN ('clear', 'low burden', 'not clearable by stool exam', 'watch, no treatment')), 
	CONSTRAINT ck_plans_negatives_needed_not_negative CHECK (negatives_needed >= 0), 
	CONSTRAINT fk_plans_code_replaces FOREIGN KEY(code, replaces) REFERENCES plans (code, id), 
	CONSTRAINT ck_plans_spacing_days_not_negative CHECK (spacing_days >= 0), 
	CONSTRAINT ck_plans_case_kind CHECK (substr("case", 1, 1) = 'C'), 
	CONSTRAINT uq_plans_code_id UNIQUE (code, id), 
	CONSTRAINT ck_plans_doses_planned_not_negative CHECK (doses_planned >= 0), 
	CONSTRAINT fk_plans_label_picture FOREIGN KEY(label_picture) REFERENCES pictures (sha256), 
	CONSTRAINT ck_plans_repeats_allowed_not_negative CHECK (repeats_allowed >= 0), 
	CONSTRAINT ck_plans_fluids_ml_per_kg_day_not_negative CHECK (fluids_ml_per_kg_day >= 0), 
	CONSTRAINT ck_plans_bottle_ml_positive CHECK (bottle_ml > 0), 
	CONSTRAINT ck_plans_tube_french_positive CHECK (tube_french > 0), 
	CONSTRAINT ck_plans_tube_inner_diameter_mm_positive CHECK (tube_inner_diameter_mm > 0), 
	CONSTRAINT ck_plans_tube_length_mm_positive CHECK (tube_length_mm > 0), 
	CONSTRAINT ck_plans_tube_way_known CHECK (tube_way IN ('flush', 'overfill'))
);
INSERT INTO "plans" VALUES(1,'P1','C1','Dr. Invented','2026-03-02','clear','a drug','','50','100.0','',14.0,2,7.0,3,7,14,'','','','','',NULL,'4915583db9a0f5c7ee46af1116eb175789e422a62192c08d673194d3dc6c1b95','','','2026-03-04 09:30:00.000000','keeper',NULL,'',0,1,20.0,'a fluid',18.5,'water','the pharmacist','0.21','Dr. Invented, 2 March 2026',10.0,5.0,0.8,400.0,'flush','4915583db9a0f5c7ee46af1116eb175789e422a62192c08d673194d3dc6c1b95',1);
CREATE TABLE preparations (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	exam TEXT NOT NULL, 
	method TEXT NOT NULL, 
	read_at DATETIME, 
	cover_glass TEXT NOT NULL, 
	room_c DOUBLE, 
	slide_warmed BOOLEAN, 
	solution TEXT NOT NULL, 
	specific_gravity DOUBLE, 
	gravity_checked BOOLEAN, 
	standing_minutes DOUBLE, 
	sample_g DOUBLE, 
	suspension_ml DOUBLE, 
	counted_ml DOUBLE, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_preparations PRIMARY KEY (id), 
	CONSTRAINT uq_preparations_replaces UNIQUE (replaces), 
	CONSTRAINT fk_preparations_code_replaces FOREIGN KEY(code, replaces) REFERENCES preparations (code, id), 
	CONSTRAINT fk_preparations_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_preparations_exam FOREIGN KEY(exam) REFERENCES codes (code), 
	CONSTRAINT uq_preparations_code_id UNIQUE (code, id), 
	CONSTRAINT ck_preparations_exam_kind CHECK (substr(exam, 1, 1) = 'E'), 
	CONSTRAINT ck_preparations_method_known CHECK (method IN ('direct_saline_smear', 'iodine_smear', 'cloacal_wash', 'urine_wet_mount', 'simple_flotation', 'centrifugal_flotation', 'sedimentation', 'mcmaster', 'stoll_dilution', 'baermann', 'acid_fast_smear', 'permanent_stain', 'from_elsewhere')), 
	CONSTRAINT ck_preparations_specific_gravity_positive CHECK (specific_gravity > 0), 
	CONSTRAINT ck_preparations_standing_minutes_not_negative CHECK (standing_minutes >= 0), 
	CONSTRAINT ck_preparations_sample_g_positive CHECK (sample_g > 0), 
	CONSTRAINT ck_preparations_suspension_ml_positive CHECK (suspension_ml > 0), 
	CONSTRAINT ck_preparations_counted_ml_positive CHECK (counted_ml > 0), 
	CONSTRAINT ck_preparations_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "preparations" VALUES(1,'E1-1','E1','direct_saline_smear','2026-03-01 08:45:00.000000','22x22',21.5,0,'',NULL,NULL,NULL,NULL,NULL,NULL,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
INSERT INTO "preparations" VALUES(2,'E1-2','E1','simple_flotation',NULL,'22x22',NULL,NULL,'saturated salt',1.2,1,15.0,1.0,15.0,0.3,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE protocol_words (
	id INTEGER NOT NULL, 
	row_id INTEGER NOT NULL, 
	field TEXT NOT NULL, 
	word TEXT NOT NULL, 
	CONSTRAINT pk_protocol_words PRIMARY KEY (id), 
	CONSTRAINT fk_protocol_words_row_id FOREIGN KEY(row_id) REFERENCES arrival_protocols (id), 
	CONSTRAINT uq_protocol_words_row_id_field_word UNIQUE (row_id, field, word), 
	CONSTRAINT ck_protocol_words_word_not_empty CHECK (word <> '')
);
INSERT INTO "protocol_words" VALUES(1,1,'preparations','simple_flotation');
INSERT INTO "protocol_words" VALUES(2,1,'preparations','direct_saline_smear');
INSERT INTO "protocol_words" VALUES(3,1,'blocking','coccidian');
INSERT INTO "protocol_words" VALUES(4,1,'not_blocking','oxyurid');
INSERT INTO "protocol_words" VALUES(5,1,'not_blocking','ciliate');
CREATE TABLE reading_counts (
	id INTEGER NOT NULL, 
	reading_id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	sure BOOLEAN NOT NULL, 
	count INTEGER NOT NULL, 
	CONSTRAINT pk_reading_counts PRIMARY KEY (id), 
	CONSTRAINT fk_reading_counts_reading_id FOREIGN KEY(reading_id) REFERENCES readings (id), 
	CONSTRAINT uq_reading_counts_reading_id_name_sure UNIQUE (reading_id, name, sure), 
	CONSTRAINT ck_reading_counts_name_not_empty CHECK (name <> ''), 
	CONSTRAINT ck_reading_counts_count_not_negative CHECK (count >= 0)
);
INSERT INTO "reading_counts" VALUES(1,1,'oxyurid',1,0);
INSERT INTO "reading_counts" VALUES(2,1,'flagellate',0,2);
CREATE TABLE "readings" (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	preparation TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	objective DOUBLE, 
	field_number DOUBLE, 
	cover_share DOUBLE, 
	um_per_px DOUBLE, 
	picture TEXT, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	proposals TEXT DEFAULT '' NOT NULL, 
	mean_swimming DOUBLE, 
	mean_swimming_low DOUBLE, 
	mean_swimming_high DOUBLE, 
	clip_seconds DOUBLE, 
	CONSTRAINT pk_readings PRIMARY KEY (id), 
	CONSTRAINT ck_readings_kind_known CHECK (kind IN ('field', 'sweep', 'chamber')), 
	CONSTRAINT ck_readings_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> '')), 
	CONSTRAINT fk_readings_preparation FOREIGN KEY(preparation) REFERENCES codes (code), 
	CONSTRAINT uq_readings_replaces UNIQUE (replaces), 
	CONSTRAINT ck_readings_preparation_kind CHECK (substr(preparation, 1, 1) = 'E'), 
	CONSTRAINT ck_readings_cover_share_share CHECK (cover_share >= 0 AND cover_share <= 1), 
	CONSTRAINT ck_readings_objective_positive CHECK (objective > 0), 
	CONSTRAINT ck_readings_um_per_px_positive CHECK (um_per_px > 0), 
	CONSTRAINT uq_readings_code_id UNIQUE (code, id), 
	CONSTRAINT ck_readings_field_number_positive CHECK (field_number > 0), 
	CONSTRAINT fk_readings_code_replaces FOREIGN KEY(code, replaces) REFERENCES readings (code, id), 
	CONSTRAINT fk_readings_picture FOREIGN KEY(picture) REFERENCES pictures (sha256), 
	CONSTRAINT fk_readings_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT ck_readings_proposals_known CHECK (proposals IN ('', 'off', 'after reading', 'before reading')), 
	CONSTRAINT ck_readings_mean_swimming_not_negative CHECK (mean_swimming >= 0), 
	CONSTRAINT ck_readings_mean_swimming_low_not_negative CHECK (mean_swimming_low >= 0), 
	CONSTRAINT ck_readings_mean_swimming_high_not_negative CHECK (mean_swimming_high >= 0), 
	CONSTRAINT ck_readings_clip_seconds_positive CHECK (clip_seconds > 0)
);
INSERT INTO "readings" VALUES(1,'E1-1-1','E1-1','field',40.0,18.0,NULL,NULL,NULL,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0,'',NULL,NULL,NULL,NULL);
INSERT INTO "readings" VALUES(2,'E1-1-2','E1-1','sweep',10.0,NULL,1.0,0.5,'4915583db9a0f5c7ee46af1116eb175789e422a62192c08d673194d3dc6c1b95','','2026-03-04 09:30:00.000000','keeper',NULL,'',0,'after reading',2.5,0.0,5.5,3.2);
CREATE TABLE release_animals (
	id INTEGER NOT NULL, 
	row_id INTEGER NOT NULL, 
	field TEXT NOT NULL, 
	word TEXT NOT NULL, 
	CONSTRAINT pk_release_animals PRIMARY KEY (id), 
	CONSTRAINT fk_release_animals_row_id FOREIGN KEY(row_id) REFERENCES releases (id), 
	CONSTRAINT fk_release_animals_word FOREIGN KEY(word) REFERENCES codes (code), 
	CONSTRAINT uq_release_animals_row_id_field_word UNIQUE (row_id, field, word), 
	CONSTRAINT ck_release_animals_word_not_empty CHECK (word <> '')
);
INSERT INTO "release_animals" VALUES(1,1,'animals','A2');
CREATE TABLE releases (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	arrival TEXT NOT NULL, 
	"on" DATE NOT NULL, 
	"to" TEXT NOT NULL, 
	"by" TEXT NOT NULL, 
	vet TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	protocol TEXT, 
	answer_then TEXT NOT NULL, 
	edition TEXT NOT NULL, 
	supported_then BOOLEAN NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_releases PRIMARY KEY (id), 
	CONSTRAINT uq_releases_replaces UNIQUE (replaces), 
	CONSTRAINT fk_releases_code_replaces FOREIGN KEY(code, replaces) REFERENCES releases (code, id), 
	CONSTRAINT fk_releases_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_releases_arrival FOREIGN KEY(arrival) REFERENCES codes (code), 
	CONSTRAINT fk_releases_protocol FOREIGN KEY(protocol) REFERENCES codes (code), 
	CONSTRAINT uq_releases_code_id UNIQUE (code, id), 
	CONSTRAINT ck_releases_arrival_kind CHECK (substr(arrival, 1, 1) = 'I'), 
	CONSTRAINT ck_releases_protocol_kind CHECK (substr(protocol, 1, 2) = 'IP'), 
	CONSTRAINT ck_releases_by_not_empty CHECK (by <> ''), 
	CONSTRAINT ck_releases_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "releases" VALUES(1,'L1','I1','2026-03-01','the collection','keeper','Dr. Invented','their word','IP1','','',0,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE "samples" (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	origin TEXT NOT NULL, 
	passed_from DATETIME, 
	passed_to DATETIME, 
	collected_at DATETIME NOT NULL, 
	form TEXT, 
	kept TEXT, 
	mass_g DOUBLE, 
	whole_stool_used BOOLEAN NOT NULL, 
	same_stool_as TEXT, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	as_told BOOLEAN DEFAULT 0 NOT NULL, 
	stools_of INTEGER, 
	CONSTRAINT pk_samples PRIMARY KEY (id), 
	CONSTRAINT fk_samples_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT ck_samples_mass_g_positive CHECK (mass_g > 0), 
	CONSTRAINT ck_samples_same_stool_as_kind CHECK (substr(same_stool_as, 1, 1) = 'S'), 
	CONSTRAINT uq_samples_replaces UNIQUE (replaces), 
	CONSTRAINT fk_samples_same_stool_as FOREIGN KEY(same_stool_as) REFERENCES codes (code), 
	CONSTRAINT ck_samples_form_known CHECK (form IN ('formed', 'soft', 'liquid')), 
	CONSTRAINT fk_samples_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT ck_samples_kept_known CHECK (kept IN ('room', 'fridge', 'frozen', 'fixed')), 
	CONSTRAINT ck_samples_origin_known CHECK (origin IN ('stool', 'cloacal wash', 'urine', 'water dish', 'urate only')), 
	CONSTRAINT ck_samples_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> '')), 
	CONSTRAINT fk_samples_code_replaces FOREIGN KEY(code, replaces) REFERENCES samples (code, id), 
	CONSTRAINT uq_samples_code_id UNIQUE (code, id), 
	CONSTRAINT ck_samples_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_samples_passed_from_passed_to_ordered CHECK (passed_to >= passed_from), 
	CONSTRAINT ck_samples_stools_of_at_least_one CHECK (stools_of >= 1)
);
INSERT INTO "samples" VALUES(1,'S1','A1','stool','2026-03-01 07:00:00.000000','2026-03-01 08:00:00.000000','2026-03-01 08:10:00.000000','soft','room',1.25,0,NULL,'it''s "fresh"; DROP TABLE samples;--','2026-03-04 09:30:00.000000','keeper',NULL,'',0,0,NULL);
INSERT INTO "samples" VALUES(2,'S2','A1','stool',NULL,NULL,'2026-03-01 09:00:00.000000',NULL,NULL,NULL,0,'S1','','2026-03-04 09:30:00.000000','keeper',NULL,'',0,0,NULL);
CREATE TABLE sharings (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	enclosure TEXT NOT NULL, 
	thing TEXT NOT NULL, 
	label TEXT NOT NULL, 
	start DATE, 
	"end" DATE, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_sharings PRIMARY KEY (id), 
	CONSTRAINT uq_sharings_replaces UNIQUE (replaces), 
	CONSTRAINT fk_sharings_code_replaces FOREIGN KEY(code, replaces) REFERENCES sharings (code, id), 
	CONSTRAINT fk_sharings_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_sharings_enclosure FOREIGN KEY(enclosure) REFERENCES codes (code), 
	CONSTRAINT uq_sharings_code_id UNIQUE (code, id), 
	CONSTRAINT ck_sharings_enclosure_kind CHECK (substr(enclosure, 1, 1) = 'B'), 
	CONSTRAINT ck_sharings_thing_known CHECK (thing IN ('water', 'tools', 'round')), 
	CONSTRAINT ck_sharings_label_not_empty CHECK (label <> ''), 
	CONSTRAINT ck_sharings_start_end_ordered CHECK ("end" >= start), 
	CONSTRAINT ck_sharings_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "sharings" VALUES(1,'BW1','B2','tools','red tongs','2026-02-01',NULL,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE sign_answers (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	sign TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	seen_at DATETIME NOT NULL, 
	sample TEXT, 
	"by" TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_sign_answers PRIMARY KEY (id), 
	CONSTRAINT uq_sign_answers_replaces UNIQUE (replaces), 
	CONSTRAINT fk_sign_answers_code_replaces FOREIGN KEY(code, replaces) REFERENCES sign_answers (code, id), 
	CONSTRAINT fk_sign_answers_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_sign_answers_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT fk_sign_answers_sample FOREIGN KEY(sample) REFERENCES codes (code), 
	CONSTRAINT uq_sign_answers_code_id UNIQUE (code, id), 
	CONSTRAINT ck_sign_answers_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_sign_answers_sign_not_empty CHECK (sign <> ''), 
	CONSTRAINT ck_sign_answers_answer_known CHECK (answer IN ('yes', 'no', 'vet knows')), 
	CONSTRAINT ck_sign_answers_sample_kind CHECK (substr(sample, 1, 1) = 'S'), 
	CONSTRAINT ck_sign_answers_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "sign_answers" VALUES(1,'G1','A1','watery-stool','yes','2026-03-01 08:10:00.000000','S1','keeper','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE stays (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	enclosure TEXT NOT NULL, 
	start DATE, 
	"end" DATE, 
	number_of_animals INTEGER NOT NULL, 
	visit BOOLEAN NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_stays PRIMARY KEY (id), 
	CONSTRAINT uq_stays_replaces UNIQUE (replaces), 
	CONSTRAINT fk_stays_code_replaces FOREIGN KEY(code, replaces) REFERENCES stays (code, id), 
	CONSTRAINT fk_stays_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_stays_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT fk_stays_enclosure FOREIGN KEY(enclosure) REFERENCES codes (code), 
	CONSTRAINT uq_stays_code_id UNIQUE (code, id), 
	CONSTRAINT ck_stays_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_stays_enclosure_kind CHECK (substr(enclosure, 1, 1) = 'B'), 
	CONSTRAINT ck_stays_start_end_ordered CHECK ("end" >= start), 
	CONSTRAINT ck_stays_number_of_animals_at_least_one CHECK (number_of_animals >= 1), 
	CONSTRAINT ck_stays_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "stays" VALUES(1,'BT1','A1','B1','2026-02-01',NULL,1,0,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
INSERT INTO "stays" VALUES(2,'BT2','A2','B2','2026-02-01','2026-03-01',4,0,'','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE trusted_keys (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	public_key TEXT NOT NULL, 
	name TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_trusted_keys PRIMARY KEY (id), 
	CONSTRAINT uq_trusted_keys_replaces UNIQUE (replaces), 
	CONSTRAINT fk_trusted_keys_code_replaces FOREIGN KEY(code, replaces) REFERENCES trusted_keys (code, id), 
	CONSTRAINT fk_trusted_keys_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT uq_trusted_keys_code_id UNIQUE (code, id), 
	CONSTRAINT ck_trusted_keys_public_key_not_empty CHECK (public_key <> ''), 
	CONSTRAINT ck_trusted_keys_name_not_empty CHECK (name <> ''), 
	CONSTRAINT ck_trusted_keys_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "trusted_keys" VALUES(1,'T1','AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA','Dr. Invented','by telephone','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE vet_answers (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	page TEXT, 
	vet TEXT NOT NULL, 
	practice TEXT NOT NULL, 
	answered_at DATETIME NOT NULL, 
	source TEXT NOT NULL, 
	message TEXT NOT NULL, 
	says_sha256 TEXT NOT NULL, 
	raw_sha256 TEXT NOT NULL, 
	signed TEXT NOT NULL, 
	signing_key TEXT NOT NULL, 
	words TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_vet_answers PRIMARY KEY (id), 
	CONSTRAINT uq_vet_answers_replaces UNIQUE (replaces), 
	CONSTRAINT fk_vet_answers_code_replaces FOREIGN KEY(code, replaces) REFERENCES vet_answers (code, id), 
	CONSTRAINT fk_vet_answers_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT fk_vet_answers_page FOREIGN KEY(page) REFERENCES codes (code), 
	CONSTRAINT uq_vet_answers_code_id UNIQUE (code, id), 
	CONSTRAINT ck_vet_answers_page_kind CHECK (substr(page, 1, 1) = 'Z'), 
	CONSTRAINT ck_vet_answers_vet_not_empty CHECK (vet <> ''), 
	CONSTRAINT ck_vet_answers_source_known CHECK (source IN ('page', 'typed')), 
	CONSTRAINT ck_vet_answers_signed_known CHECK (signed IN ('unsigned', 'signed, key known here', 'signed, key not known here')), 
	CONSTRAINT ck_vet_answers_says_sha256_length CHECK (length(says_sha256) = 64 OR says_sha256 = ''), 
	CONSTRAINT ck_vet_answers_raw_sha256_length CHECK (length(raw_sha256) = 64 OR raw_sha256 = ''), 
	CONSTRAINT ck_vet_answers_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "vet_answers" VALUES(1,'Y1','Z1','Dr. “Invented” <script>','a practice','2026-03-03 20:15:00.000000','typed','2 pollen,
rest agree 🐢','cdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcdcd','','signed, key not known here','AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA','well
seen','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE vet_page_items (
	id INTEGER NOT NULL, 
	page TEXT NOT NULL, 
	number INTEGER NOT NULL, 
	item TEXT NOT NULL, 
	name TEXT NOT NULL, 
	sure BOOLEAN NOT NULL, 
	count INTEGER NOT NULL, 
	CONSTRAINT pk_vet_page_items PRIMARY KEY (id), 
	CONSTRAINT fk_vet_page_items_page FOREIGN KEY(page) REFERENCES codes (code), 
	CONSTRAINT uq_vet_page_items_page_number UNIQUE (page, number), 
	CONSTRAINT ck_vet_page_items_item_not_empty CHECK (item <> ''), 
	CONSTRAINT ck_vet_page_items_name_not_empty CHECK (name <> ''), 
	CONSTRAINT ck_vet_page_items_number_at_least_one CHECK (number >= 1), 
	CONSTRAINT ck_vet_page_items_count_at_least_one CHECK (count >= 1)
);
INSERT INTO "vet_page_items" VALUES(1,'Z1',1,'E1-1-2-1','oxyurid',1,1);
INSERT INTO "vet_page_items" VALUES(2,'Z1',2,'E1-1-2-2','pollen',0,1);
CREATE TABLE vet_pages (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	exams TEXT NOT NULL, 
	page_id TEXT NOT NULL, 
	page_sha256 TEXT NOT NULL, 
	made_at DATETIME NOT NULL, 
	question TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	CONSTRAINT pk_vet_pages PRIMARY KEY (id), 
	CONSTRAINT uq_vet_pages_replaces UNIQUE (replaces), 
	CONSTRAINT fk_vet_pages_code_replaces FOREIGN KEY(code, replaces) REFERENCES vet_pages (code, id), 
	CONSTRAINT fk_vet_pages_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT uq_vet_pages_code_id UNIQUE (code, id), 
	CONSTRAINT ck_vet_pages_subject_not_empty CHECK (subject <> ''), 
	CONSTRAINT ck_vet_pages_page_id_not_empty CHECK (page_id <> ''), 
	CONSTRAINT ck_vet_pages_page_sha256_length CHECK (length(page_sha256) = 64), 
	CONSTRAINT ck_vet_pages_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> ''))
);
INSERT INTO "vet_pages" VALUES(1,'Z1','C1','E1','7K2M-Q9XA','abababababababababababababababababababababababababababababababab','2026-03-03 09:00:00.000000','is <b>7</b> one?
or pollen','','2026-03-04 09:30:00.000000','keeper',NULL,'',0);
CREATE TABLE "weighings" (
	id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	animal TEXT NOT NULL, 
	weighed_at DATETIME NOT NULL, 
	mass_g DOUBLE NOT NULL, 
	scale_step_g DOUBLE, 
	state TEXT NOT NULL, 
	remark TEXT NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	recorded_by TEXT NOT NULL, 
	replaces INTEGER, 
	correction_reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	as_told BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_weighings PRIMARY KEY (id), 
	CONSTRAINT uq_weighings_replaces UNIQUE (replaces), 
	CONSTRAINT ck_weighings_replaces_with_reason CHECK ((replaces IS NULL AND correction_reason = '' AND NOT withdrawn) OR (replaces IS NOT NULL AND correction_reason <> '')), 
	CONSTRAINT ck_weighings_animal_kind CHECK (substr(animal, 1, 1) = 'A'), 
	CONSTRAINT ck_weighings_scale_step_g_positive CHECK (scale_step_g > 0), 
	CONSTRAINT fk_weighings_code_replaces FOREIGN KEY(code, replaces) REFERENCES weighings (code, id), 
	CONSTRAINT uq_weighings_code_id UNIQUE (code, id), 
	CONSTRAINT fk_weighings_animal FOREIGN KEY(animal) REFERENCES codes (code), 
	CONSTRAINT fk_weighings_code FOREIGN KEY(code) REFERENCES codes (code), 
	CONSTRAINT ck_weighings_mass_g_positive CHECK (mass_g > 0)
);
INSERT INTO "weighings" VALUES(1,'W1','A1','2026-03-01 08:00:00.000000',412.5,0.5,'','','2026-03-04 09:30:00.000000','keeper',NULL,'',0,0);
INSERT INTO "weighings" VALUES(2,'W1','A1','2026-03-01 08:00:00.000000',421.5,0.5,'','','2026-03-04 09:30:00.000000','keeper',1,'typing error',0,0);
CREATE INDEX ix_codes_kind_parent_number ON codes (kind, parent, number);
CREATE INDEX ix_animal_events_animal ON animal_events (animal);
CREATE INDEX ix_animal_events_case ON animal_events ("case");
CREATE UNIQUE INDEX uq_animal_events_first ON animal_events (code) WHERE replaces IS NULL;
CREATE INDEX ix_animals_name_key ON animals (name_key);
CREATE UNIQUE INDEX uq_animals_first ON animals (code) WHERE replaces IS NULL;
CREATE INDEX ix_care_entries_animal ON care_entries (animal);
CREATE UNIQUE INDEX uq_care_entries_first ON care_entries (code) WHERE replaces IS NULL;
CREATE INDEX ix_cases_animal ON cases (animal);
CREATE INDEX ix_cases_opened_by_exam ON cases (opened_by_exam);
CREATE UNIQUE INDEX uq_cases_first ON cases (code) WHERE replaces IS NULL;
CREATE INDEX ix_closings_case ON closings ("case");
CREATE UNIQUE INDEX uq_closings_first ON closings (code) WHERE replaces IS NULL;
CREATE INDEX ix_elsewhere_results_exam ON elsewhere_results (exam);
CREATE INDEX ix_elsewhere_results_picture ON elsewhere_results (picture);
CREATE UNIQUE INDEX uq_elsewhere_results_first ON elsewhere_results (code) WHERE replaces IS NULL;
CREATE INDEX ix_marks_reading ON marks (reading);
CREATE UNIQUE INDEX uq_marks_first ON marks (code) WHERE replaces IS NULL;
CREATE INDEX ix_preparations_exam ON preparations (exam);
CREATE UNIQUE INDEX uq_preparations_first ON preparations (code) WHERE replaces IS NULL;
CREATE INDEX ix_weighings_animal ON weighings (animal);
CREATE UNIQUE INDEX uq_weighings_first ON weighings (code) WHERE replaces IS NULL;
CREATE INDEX ix_exams_sample ON exams (sample);
CREATE UNIQUE INDEX uq_exams_first ON exams (code) WHERE replaces IS NULL;
CREATE INDEX ix_plans_picture ON plans (picture);
CREATE UNIQUE INDEX uq_plans_first ON plans (code) WHERE replaces IS NULL;
CREATE INDEX ix_plans_case ON plans ("case");
CREATE INDEX ix_plans_label_picture ON plans (label_picture);
CREATE UNIQUE INDEX uq_doses_given_first ON doses_given (code) WHERE replaces IS NULL;
CREATE INDEX ix_doses_given_plan ON doses_given ("plan");
CREATE UNIQUE INDEX uq_control_runs_first ON control_runs (code) WHERE replaces IS NULL;
CREATE INDEX ix_measurements_animal ON measurements (animal);
CREATE UNIQUE INDEX uq_measurements_first ON measurements (code) WHERE replaces IS NULL;
CREATE INDEX ix_sign_answers_animal ON sign_answers (animal);
CREATE INDEX ix_sign_answers_sample ON sign_answers (sample);
CREATE UNIQUE INDEX uq_sign_answers_first ON sign_answers (code) WHERE replaces IS NULL;
CREATE INDEX ix_dose_reactions_dose ON dose_reactions (dose);
CREATE UNIQUE INDEX uq_dose_reactions_first ON dose_reactions (code) WHERE replaces IS NULL;
CREATE INDEX ix_other_drugs_animal ON other_drugs (animal);
CREATE UNIQUE INDEX uq_other_drugs_first ON other_drugs (code) WHERE replaces IS NULL;
CREATE INDEX ix_readings_preparation ON readings (preparation);
CREATE UNIQUE INDEX uq_readings_first ON readings (code) WHERE replaces IS NULL;
CREATE INDEX ix_readings_picture ON readings (picture);
CREATE INDEX ix_vet_pages_page_id ON vet_pages (page_id);
CREATE UNIQUE INDEX uq_vet_pages_first ON vet_pages (code) WHERE replaces IS NULL;
CREATE INDEX ix_vet_answers_page ON vet_answers (page);
CREATE UNIQUE INDEX uq_vet_answers_first ON vet_answers (code) WHERE replaces IS NULL;
CREATE INDEX ix_mark_verdicts_answer ON mark_verdicts (answer);
CREATE INDEX ix_mark_verdicts_exam ON mark_verdicts (exam);
CREATE INDEX ix_mark_verdicts_reading ON mark_verdicts (reading);
CREATE UNIQUE INDEX uq_mark_verdicts_first ON mark_verdicts (code) WHERE replaces IS NULL;
CREATE INDEX ix_missed_organisms_answer ON missed_organisms (answer);
CREATE INDEX ix_missed_organisms_exam ON missed_organisms (exam);
CREATE INDEX ix_missed_organisms_reading ON missed_organisms (reading);
CREATE UNIQUE INDEX uq_missed_organisms_first ON missed_organisms (code) WHERE replaces IS NULL;
CREATE INDEX ix_exam_verdicts_answer ON exam_verdicts (answer);
CREATE INDEX ix_exam_verdicts_exam ON exam_verdicts (exam);
CREATE UNIQUE INDEX uq_exam_verdicts_first ON exam_verdicts (code) WHERE replaces IS NULL;
CREATE INDEX ix_case_words_answer ON case_words (answer);
CREATE INDEX ix_case_words_case ON case_words ("case");
CREATE INDEX ix_case_words_same_as ON case_words (same_as);
CREATE INDEX ix_case_words_taken_as ON case_words (taken_as);
CREATE UNIQUE INDEX uq_case_words_first ON case_words (code) WHERE replaces IS NULL;
CREATE UNIQUE INDEX uq_trusted_keys_first ON trusted_keys (code) WHERE replaces IS NULL;
CREATE UNIQUE INDEX uq_samples_first ON samples (code) WHERE replaces IS NULL;
CREATE INDEX ix_samples_animal ON samples (animal);
CREATE INDEX ix_samples_same_stool_as ON samples (same_stool_as);
CREATE INDEX ix_enclosures_name_key ON enclosures (name_key);
CREATE UNIQUE INDEX uq_enclosures_first ON enclosures (code) WHERE replaces IS NULL;
CREATE INDEX ix_sharings_enclosure ON sharings (enclosure);
CREATE UNIQUE INDEX uq_sharings_first ON sharings (code) WHERE replaces IS NULL;
CREATE INDEX ix_stays_animal ON stays (animal);
CREATE INDEX ix_stays_enclosure ON stays (enclosure);
CREATE UNIQUE INDEX uq_stays_first ON stays (code) WHERE replaces IS NULL;
CREATE INDEX ix_count_changes_animal ON count_changes (animal);
CREATE INDEX ix_count_changes_other ON count_changes (other);
CREATE UNIQUE INDEX uq_count_changes_first ON count_changes (code) WHERE replaces IS NULL;
CREATE INDEX ix_arrivals_split_from ON arrivals (split_from);
CREATE UNIQUE INDEX uq_arrivals_first ON arrivals (code) WHERE replaces IS NULL;
CREATE INDEX ix_arrival_members_arrival ON arrival_members (arrival);
CREATE INDEX ix_arrival_members_animal ON arrival_members (animal);
CREATE UNIQUE INDEX uq_arrival_members_first ON arrival_members (code) WHERE replaces IS NULL;
CREATE INDEX ix_arrival_protocols_arrival ON arrival_protocols (arrival);
CREATE UNIQUE INDEX uq_arrival_protocols_first ON arrival_protocols (code) WHERE replaces IS NULL;
CREATE INDEX ix_releases_arrival ON releases (arrival);
CREATE INDEX ix_releases_protocol ON releases (protocol);
CREATE UNIQUE INDEX uq_releases_first ON releases (code) WHERE replaces IS NULL;
COMMIT;
