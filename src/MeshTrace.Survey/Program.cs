using MeshTrace.Survey;

using var output = new StreamWriter(Console.OpenStandardOutput(), new System.Text.UTF8Encoding(false), 1 << 16) { NewLine = "\n" };
using var error = new StreamWriter(Console.OpenStandardError(), new System.Text.UTF8Encoding(false)) { NewLine = "\n", AutoFlush = true };
return new SurveyProgram(output, error).Run(args);
