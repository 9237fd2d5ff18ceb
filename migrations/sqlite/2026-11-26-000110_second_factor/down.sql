DROP TABLE factor_policies;
DROP TABLE half_sign_ins;
DROP TABLE recovery_codes;
DROP TABLE factors;
