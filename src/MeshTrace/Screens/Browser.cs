using System.Text;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;
using MeshTrace.Screens.Octets;

namespace MeshTrace.Screens;

/// <summary>Where things go that leave the screens.</summary>
/// <param name="Clip">Puts text on the clipboard of whoever sits at the terminal.</param>
/// <param name="Save">Writes text to a new file and returns what to tell: where it went, or why it did not.</param>
internal sealed record Outlets(Action<string> Clip, Func<string, string, string> Save);

/// <summary>
/// All screens together, without a terminal: takes keys and clicks, and composes the lines to draw. What is drawn is decided here and nowhere else, so
/// that all of it can be tested.
/// </summary>
internal sealed partial class Browser
{
    /// <summary>Longest text that terminals take by OSC 52; xterm's limit is the lowest known (common practice, no source).</summary>
    private const int LongestClip = 74_000;

    private readonly Workspace _workspace;
    private readonly Outlets _outlets;
    private readonly PressesScreen _presses;
    private readonly HopsScreen _hops;
    private readonly TimelinesScreen _timelines;
    private readonly RepeatsScreen _repeats;
    private readonly TransfersScreen _transfers;
    private readonly NetworkScreen _network;
    private readonly OctetsScreen _octets;
    private readonly Screen[] _screens;
    private readonly Dictionary<Screen, (RecordPlace? Record, int Selected)> _chosen = [];
    private readonly Stack<int> _back = new();
    private int _current;
    private Prompt? _prompt;
    private string? _message;
    private Words? _find;
    private bool _helps;
    private bool _settled;

    public Browser(Workspace workspace, FrameStore frames, Outlets outlets)
    {
        _workspace = workspace;
        _outlets = outlets;
        _presses = new PressesScreen(workspace);
        _hops = new HopsScreen(workspace);
        _timelines = new TimelinesScreen(workspace);
        _repeats = new RepeatsScreen(workspace);
        _transfers = new TransfersScreen(workspace);
        _network = new NetworkScreen(workspace);
        _octets = new OctetsScreen(workspace, frames);
        _screens = [_presses, _timelines, _hops, _repeats, _transfers, _network, _octets];
        _workspace.Renewing = NoteChosen;
        _workspace.Renewed = Follow;
    }

    /// <summary>The screen in front.</summary>
    public Screen Current => _screens[_current];

    public IReadOnlyList<Screen> Screens => _screens;

    /// <summary>True once the user wants to leave.</summary>
    public bool IsDone { get; private set; }

    /// <summary>Takes one key.</summary>
    public void Take(Stroke stroke)
    {
        TakeStroke(stroke);
        _workspace.Hold(_prompt is not null);
    }

    /// <summary>Takes text that was pasted: into a line that is being typed, and nowhere else, for its letters are not meant as keys.</summary>
    public void Paste(string text)
    {
        if (_prompt is not { IsChoice: false })
            return;
        foreach (Rune letter in text.EnumerateRunes())
        {
            if (!Rune.IsControl(letter))
                Take(new Stroke(Motion.None, letter));
        }
    }

    private void TakeStroke(Stroke stroke)
    {
        NoteSettled();
        _message = null;
        if (_prompt is { } prompt)
        {
            if (!prompt.Take(stroke, out string? says))
                return;
            if (_prompt == prompt)
                _prompt = null;
            _message = says;
            return;
        }
        if (_helps)
            TakeInHelp(stroke);
        else if (!Current.Take(stroke))
            TakeCommon(stroke);
    }

    private void TakeInHelp(Stroke stroke)
    {
        if (stroke.Motion is Motion.Up or Motion.Down or Motion.PageUp or Motion.PageDown or Motion.Home or Motion.End)
            Scroll(ref _helpTop, stroke.Motion, _helpLines);
        else
            _helps = false;
    }

    private void TakeCommon(Stroke stroke)
    {
        switch (stroke.Motion)
        {
            case Motion.None:
                TakeLetter(stroke);
                break;
            case Motion.Enter:
                GoDeeper();
                break;
            case Motion.Escape or Motion.Back:
                if (_back.TryPop(out int before))
                    Show(before);
                break;
            case Motion.Tab:
                _inAccount = !_inAccount;
                break;
            default:
                if (_inAccount)
                    Scroll(ref _accountTop, stroke.Motion, _layout.AccountLines);
                else
                    Move(stroke.Motion);
                break;
        }
    }

    private void TakeLetter(Stroke stroke)
    {
        int digit = stroke.Letter.Value - '1';
        if (digit >= 0 && digit < _screens.Length)
        {
            GoTo(digit);
            return;
        }
        switch ((char)Math.Min(stroke.Letter.Value, char.MaxValue))
        {
            case 'q': IsDone = true; break;
            case '?': (_helps, _helpTop) = (true, 0); break;
            case 'o': AskOnly(); break;
            case 'u': Narrow(Narrowing.None); break;
            case 't': AskTime(); break;
            case 'f' or '/': AskFind(); break;
            case '.': FindNext(); break;
            case 'c': Copy(); break;
            case 'w': AskFile(); break;
            case 'x': GoToOctets(); break;
        }
    }

    /// <summary>Goes to a screen; 'back' leads to where one came from.</summary>
    public void GoTo(int screen)
    {
        if (screen == _current)
            return;
        if (_back.Count == 0 || _back.Peek() != _current)
            _back.Push(_current);
        Show(screen);
    }

    private void Show(int screen)
    {
        _current = screen;
        _inAccount = false;
        _accountTop = 0;
        Current.Enter();
    }

    private void GoDeeper()
    {
        if (!_workspace.IsSettled || Current.RowCount == 0)
            return;
        if (Current == _presses)
        {
            _hops.ShowPress();
            GoTo(_hops);
        }
        else if (Current == _timelines && _timelines.Flood is { } flood)
        {
            _workspace.ChooseFlood(flood);
            _hops.ShowFlood();
            GoTo(_hops);
        }
        else if (Current == _repeats || (Current == _network && _network.IsNode))
            GoTo(_timelines);
        else if (Current == _hops || Current == _transfers || Current == _network)
            GoToOctets();
    }

    private void GoToOctets()
    {
        if (Current == _octets)
            return;
        if (!_workspace.IsSettled || Current.Frame is not { } frame)
        {
            _message = "Nothing here has octets to show.";
            return;
        }
        _octets.Show(frame);
        GoTo(_octets);
    }

    private void GoTo(Screen screen) => GoTo(Array.IndexOf(_screens, screen));

    private void Move(Motion motion)
    {
        Screen screen = Current;
        int page = Math.Max(1, _layout.RowLines - 1);
        int wanted = motion switch
        {
            Motion.Up => screen.Selected - 1,
            Motion.Down => screen.Selected + 1,
            Motion.PageUp => screen.Selected - page,
            Motion.PageDown => screen.Selected + page,
            Motion.Home => 0,
            Motion.End => screen.RowCount - 1,
            _ => screen.Selected,
        };
        Select(wanted);
    }

    private void Select(int row)
    {
        Current.Selected = row;
        _accountTop = 0;
    }

    private void Narrow(Narrowing only)
    {
        _workspace.Narrow(only);
        _accountTop = 0;
    }

    private void AskOnly()
    {
        IReadOnlyList<(char Key, string Says, Narrowing Only)> choices = Current.Choices;
        if (choices.Count == 0)
        {
            _message = "Nothing here to narrow to.";
            return;
        }
        // As much of each name as lets all of them stand on the line.
        int room = (_layout.Columns - "Show only: ".Length - "   Esc: no".Length - 1) / choices.Count - "k ".Length - 2;
        string asks = "Show only: " + string.Join("  ", choices.Select(choice => $"{choice.Key} {DisplayWidth.Isolate(DisplayWidth.CutMiddle(choice.Says, room))}"));
        _prompt = new Prompt(asks, "", letter =>
        {
            Narrow(choices.First(choice => choice.Key == letter[0]).Only);
            return null;
        }, string.Concat(choices.Select(choice => choice.Key)));
    }

    private void AskTime()
    {
        if (!_workspace.IsSettled || _workspace.History.TimeSpanNs is not { } span)
        {
            _message = _workspace.IsSettled ? "This capture tells no times." : "Still reading.";
            return;
        }
        _prompt = new Prompt("Only the time from-to (18:40-19:00) or around (18:47:02): ", "", text =>
        {
            if (text.Length == 0)
                Narrow(_workspace.Only with { Time = null });
            else if (Moment.TryRange(text, span, out (long, long) range))
                Narrow(_workspace.Only with { Time = range });
            else
                return $"'{text}' is no time: write 18:40-19:00, or 18:47:02.";
            return null;
        });
    }

    private void AskFind() => _prompt = new Prompt("Find (name, address, message, finding): ", _find?.Text ?? "", text =>
    {
        _find = new Words(text, _workspace.IsSettled ? _workspace.Account.Names : null, _workspace.IsSettled ? _workspace.Account.Vendor : null);
        return _find.IsEmpty ? null : FindFrom(Current.Selected + 1);
    });

    private void FindNext()
    {
        if (_find is { IsEmpty: false })
            _message = FindFrom(Current.Selected + 1);
        else
            AskFind();
    }

    /// <summary>Selects the next row with the words, from the top again after the last; says where else they are if there is none.</summary>
    private string? FindFrom(int from)
    {
        Screen screen = Current;
        int count = screen.RowCount;
        for (int i = 0; i < count; i++)
        {
            int row = (from + i) % count;
            if (!screen.Matches(row, _find!))
                continue;
            Select(row);
            return null;
        }
        List<string> elsewhere = [.. _screens.Where(other => other != screen && Enumerable.Range(0, other.RowCount).Any(row => other.Matches(row, _find!))).Select(other => other.Name)];
        return elsewhere.Count > 0 ? $"'{_find!.Text}' is not here, but on {Phrases.List(elsewhere)}." : $"'{_find!.Text}' is nowhere.";
    }

    private string? RecordJson() => Current.Record is { } place
        ? RecordText.Of(_workspace.History, place.Kind, place.Row, new RecordsSettings { ProgramVersion = ProgramVersion.Text, Vendor = _workspace.Account.Vendor }) : null;

    private void Copy()
    {
        if (RecordJson() is not { } json)
            _message = "Nothing here has a record to copy.";
        else if (json.Length > LongestClip)
            _message = "The record is too long for the clipboard: 'w' writes it to a file.";
        else
        {
            _outlets.Clip(json);
            _message = $"The {RecordKinds.NameOf(Current.Record!.Value.Kind)} record went to the clipboard, if it is allowed to; 'w': a file.";
        }
    }

    private void AskFile()
    {
        if (Current.Record is not { } place || RecordJson() is not { } json)
        {
            _message = "Nothing here has a record to write.";
            return;
        }
        _prompt = new Prompt("Write the record to the file: ", $"{RecordKinds.NameOf(place.Kind)}-{place.Row + 1}.json", file => file.Length == 0 ? null : _outlets.Save(file, json));
    }

    /// <summary>The reading has just ended: the screen in front goes to what it opens on.</summary>
    private void NoteSettled()
    {
        if (_settled || !_workspace.IsSettled)
            return;
        _settled = true;
        Current.Enter();
    }

    private void NoteChosen()
    {
        foreach (Screen screen in _screens)
            _chosen[screen] = (screen.Record, screen.Selected);
    }

    /// <summary>A new history has come: every screen goes on with what was selected, and the one in front stays where it is on the terminal.</summary>
    private void Follow(RowFollowing following)
    {
        foreach ((Screen screen, (RecordPlace? record, int selected)) in _chosen)
        {
            screen.Follow(following, record, selected);
            if (screen == Current)
                _rowsTop = Math.Max(0, _rowsTop + screen.Selected - selected);
        }
    }
}
